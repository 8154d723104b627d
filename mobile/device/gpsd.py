"""Fixes from a gpsd on this device: its JSON over TCP (gpsd's manual, gpsd_json, class TPV)."""

import json
import math
import socket
from datetime import datetime
from typing import Any, Final

from mobile.device.receivers import LOOK_AGAIN_S, READ_WAITS_S, Receiver, Sink, State
from shared_core.track import Fix

HOST: Final = "127.0.0.1"
PORT: Final = 2947  # registered for gpsd (IANA)
WATCH: Final = b'?WATCH={"enable":true,"json":true};\n'
HAS_POSITION: Final = 2  # mode: 2 is a fix in the plane, 3 one with height
FARTHEST_BAD: Final = 1_000_000  # a count, not a log


class GpsdReceiver(Receiver):
    """Listens to the reports of a gpsd."""

    def __init__(
        self, sink: Sink, *, host: str = HOST, port: int = PORT, look_again_s: float = LOOK_AGAIN_S
    ) -> None:
        """Take where fixes go, and where the gpsd answers."""
        super().__init__(sink, look_again_s=look_again_s)
        self._where = (host, port)

    def _listen(self) -> None:
        with socket.create_connection(self._where, timeout=5.0) as line:
            line.sendall(WATCH)
            line.settimeout(READ_WAITS_S)

            def read() -> bytes:
                try:
                    came = line.recv(4096)
                except TimeoutError:
                    return b""
                if not came:
                    raise EOFError("gpsd closed the connection")
                return came

            for text in self._lines(read):
                self._take(text)

    def _take(self, text: str) -> None:
        try:
            report = json.loads(text)
            self._take_report(report)
        except (ValueError, TypeError, AttributeError, KeyError, RecursionError):
            self.bad = min(self.bad + 1, FARTHEST_BAD)

    def _take_report(self, report: dict[str, Any]) -> None:
        if report.get("class") == "DEVICE" and not report.get("activated"):
            self.state = State.LOST  # unplugged from the gpsd, which itself stays
        if report.get("class") != "TPV":
            return
        if report.get("mode", 0) < HAS_POSITION:
            self.state = State.WAITING
        elif "time" in report:  # the first reports may lack it
            self._give(fix_of(report))


def fix_of(report: dict[str, Any]) -> Fix:
    """Return a TPV report as a fix; its error is ``eph``, else that of both axes together [m].

    Raises:
        ValueError: if a value is out of its range, or the time has no offset.
        KeyError: if the position is missing.
    """
    lat, lon = float(report["lat"]), float(report["lon"])
    time = datetime.fromisoformat(report["time"])
    if time.tzinfo is None or not (abs(lat) <= 90 and abs(lon) <= 180):
        raise ValueError("outside the globe, or a time without offset")
    return Fix(
        time=time, lat=lat, lon=lon, accuracy_m=_error_m(report), speed_m_s=_finite(report, "speed")
    )


def _error_m(report: dict[str, Any]) -> float | None:
    across, along = _finite(report, "epx"), _finite(report, "epy")
    both = None if across is None or along is None else round(math.hypot(across, along), 2)
    eph = _finite(report, "eph")
    return both if eph is None else eph


def _finite(report: dict[str, Any], name: str) -> float | None:
    value = float(report.get(name, math.nan))
    return value if math.isfinite(value) else None
