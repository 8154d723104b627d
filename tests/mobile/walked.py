"""An invented walk, and stand-ins that play it: a receiver on a pseudo-terminal, and a gpsd."""

import contextlib
import json
import math
import os
import socket
import threading
import time
import tty
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from mobile import practice
from mobile.device.choice import Receivers
from mobile.device.receivers import Receiver, State
from mobile.walk_shown import WalkShown, walk_shown
from mobile.walking import Parts, Walking
from shared_core.geodesy import local_projection
from shared_core.records.water_setup import RatingTable
from shared_core.track import Fix
from tests.mobile.conftest import BEGUN
from tests.mobile.kept import record_of

CENTRE = (-36.5, 155.5)  # of the practice site: open sea, nobody's wetland
PLANE = local_projection(*CENTRE)
STAGE_M = 0.46


def radius_m() -> float:
    """Of the circle that holds the rating's area at the stage read before."""
    rungs = [practice._rung(step) for step in range(31)]
    table = RatingTable(
        site="PRA", valid_from=BEGUN, version="t", origin="power form", values=tuple(rungs)
    )
    return math.sqrt(table.rating.area_at(50.0 + STAGE_M) / math.pi)


def ring(
    count: int = 120,
    *,
    radius: float | None = None,
    share: float = 1.0,
    middle: tuple[float, float] = (0.0, 0.0),
    begun: datetime = BEGUN,
    every_s: float = 5.0,
    accuracy_m: float | None = 3.0,
) -> list[Fix]:
    """Walk a circle, or a share of one, from its east side against the clock."""
    radius = radius_m() if radius is None else radius
    fixes = []
    for step in range(count):
        turn = 2 * math.pi * share * step / count
        east = middle[0] + radius * math.cos(turn)
        north = middle[1] + radius * math.sin(turn)
        lat, lon = PLANE.inverse(east, north)
        moment = begun + timedelta(seconds=every_s * step)
        fixes.append(Fix(moment, lat, lon, accuracy_m, 1.2))
    return fixes


def sentence(body: str) -> str:
    total = 0
    for letter in body.encode():
        total ^= letter
    return f"${body}*{total:02X}"


def _angle(value: float, width: int, sides: str) -> str:
    degrees, rest = divmod(abs(value), 1)
    return f"{int(degrees):0{width}d}{rest * 60:010.7f},{sides[value < 0]}"


def rmc(fix: Fix, *, valid: bool = True) -> str:
    place = f"{_angle(fix.lat, 2, 'NS')},{_angle(fix.lon, 3, 'EW')}"
    knots = (fix.speed_m_s or 0.0) * 3600 / 1852
    state = "A" if valid else "V"
    return sentence(
        f"GNRMC,{fix.time:%H%M%S}.00,{state},{place},{knots:.2f},,{fix.time:%d%m%y},,,A"
    )


def gga(fix: Fix) -> str:
    place = f"{_angle(fix.lat, 2, 'NS')},{_angle(fix.lon, 3, 'EW')}"
    hdop = "" if fix.accuracy_m is None else f"{fix.accuracy_m / 3:.2f}"
    return sentence(f"GNGGA,{fix.time:%H%M%S}.00,{place},1,09,{hdop},,M,,M,,")


def sentences(fixes: Sequence[Fix]) -> list[str]:
    return [line for fix in fixes for line in (gga(fix), rmc(fix))]


class PtyReceiver:
    """A receiver on a pseudo-terminal, behind a link that stays while it comes and goes."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.master = self.slave = -1
        self.plug_in()

    def plug_in(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.master)
        tty.setraw(self.slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(self.slave))

    def say(self, *lines: str | bytes) -> None:
        for line in lines:
            data = line if isinstance(line, bytes) else line.encode() + b"\r\n"
            while data:
                data = data[os.write(self.master, data) :]

    def pull_out(self) -> None:
        self.link.unlink(missing_ok=True)
        for end in (self.master, self.slave):
            with contextlib.suppress(OSError):
                os.close(end)
        self.master = self.slave = -1


@contextlib.contextmanager
def plugged(link: Path) -> Iterator[PtyReceiver]:
    receiver = PtyReceiver(link)
    try:
        yield receiver
    finally:
        receiver.pull_out()


class GpsdStandIn:
    """Speaks gpsd's JSON to one caller at a time, on loopback."""

    def __init__(self) -> None:
        self.door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self.door.getsockname()[1]
        self.line: Any = None
        self.asked = b""
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                line, _ = self.door.accept()
                line.sendall(b'{"class":"VERSION","release":"stand-in","proto_major":3}\n')
                asked = line.recv(200)
                if not asked:  # somebody looked whether anyone is here
                    line.close()
                    continue
                self.asked, self.line = asked, line

    def say(self, *reports: Any) -> None:
        until(lambda: self.line is not None)
        for report in reports:
            text = report if isinstance(report, bytes) else json.dumps(report).encode() + b"\n"
            self.line.sendall(text)

    def hang_up(self) -> None:
        line, self.line = self.line, None
        if line is not None:
            line.shutdown(socket.SHUT_RDWR)
            line.close()

    def close(self) -> None:
        self.hang_up()
        self.door.shutdown(socket.SHUT_RDWR)
        self.door.close()
        self._thread.join()


def tpv(fix: Fix, **more: Any) -> Any:
    return {
        "class": "TPV", "mode": 3, "time": fix.time.strftime("%Y-%m-%dT%H:%M:%S.000Z"),
        "lat": fix.lat, "lon": fix.lon, "eph": fix.accuracy_m, "speed": fix.speed_m_s, **more,
    }  # fmt: skip


class Still(Receiver):
    """A receiver that is open and says nothing by itself."""

    def start(self) -> None:
        self.state = State.FIX

    def stop(self) -> None:
        self.state = State.OFF


def parts_on(folder: Path, clock: Any) -> Parts:
    """What a walk needs from a device with one receiver, which says nothing by itself."""
    return Parts(
        folder=folder,
        receivers=lambda: (Receivers(name="serial:here", says="Receiver on ttyUSB0"),),
        make=lambda _, sink: Still(sink),
        clock=clock,
    )


def again(walking: Walking) -> Walking:
    """The app was killed: a new walk on the same folder."""
    return Walking(walking.day, walking._parts)


def walk(walking: Walking, fixes: list[Fix], at_a_time: int = 7) -> WalkShown:
    for place in range(0, len(fixes), at_a_time):
        walking.take(fixes[place : place + at_a_time])
    return walk_shown(walking)


def keep(walking: Walking) -> Any:
    """Finish and keep, however often the walk is asked about."""
    walking.main()
    saved = walking.main() or walking.main()
    return record_of(walking.day, saved)


def quiet_receiver(driver: Any) -> Any:
    """Let the app of a driver find one receiver, which says nothing by itself."""
    walks = driver.app.tablet.walks
    walks.close()
    walks._parts = parts_on(walks._parts.folder, walks._parts.clock)
    return walks


def until(holds: Any, timeout_s: float = 10.0) -> None:
    """Wait for what another thread brings about."""
    end = time.perf_counter() + timeout_s
    while not holds():
        assert time.perf_counter() < end, "it never happened"
        time.sleep(0.002)
