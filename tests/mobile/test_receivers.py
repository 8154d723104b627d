import os
import shutil
import subprocess
import sys
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from mobile.device import gpsd
from mobile.device.choice import make_receiver, receivers
from mobile.device.receivers import LONGEST_LINE, NmeaReceiver, State, open_line
from mobile.device.replay import Replay, fixes_of_file
from shared_core.errors import UnknownError, UnreadableError
from shared_core.track import Fix
from tests.mobile.walked import (
    GpsdStandIn,
    PtyReceiver,
    gga,
    plugged,
    ring,
    rmc,
    sentences,
    tpv,
    until,
)

FIXES = ring(6)


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[Any]:
    with plugged(tmp_path / "receiver") as receiver:
        yield receiver


@pytest.fixture
def serial(pty: PtyReceiver) -> Iterator[Any]:
    """The receiver under test, started, with what it gave in .got"""
    got: list[Fix] = []
    receiver: Any = NmeaReceiver(str(pty.link), got.append, look_again_s=0.02)
    receiver.got = got
    receiver.start()
    until(lambda: receiver.state is State.SILENT)
    yield receiver
    receiver.stop()


@pytest.fixture
def stand_in() -> Iterator[Any]:
    server = GpsdStandIn()
    yield server
    server.close()


@pytest.fixture
def listening(stand_in: GpsdStandIn) -> Iterator[Any]:
    got: list[Fix] = []
    receiver: Any = gpsd.GpsdReceiver(got.append, port=stand_in.port, look_again_s=0.02)
    receiver.got = got
    receiver.start()
    yield receiver
    receiver.stop()


def test_a_serial_receiver_gives_whole_fixes(pty: PtyReceiver, serial: Any) -> None:
    pty.say(*sentences(FIXES))
    until(lambda: len(serial.got) == len(FIXES))
    assert serial.state is State.FIX
    for got, walked in zip(serial.got, FIXES, strict=True):
        assert (got.time, got.accuracy_m) == (walked.time, walked.accuracy_m)
        assert (got.lat, got.lon) == pytest.approx((walked.lat, walked.lon), abs=1e-8)
        assert got.speed_m_s == pytest.approx(1.2, abs=0.01)


def test_the_accuracy_is_joined_when_it_comes_after_the_place(
    pty: PtyReceiver, serial: Any
) -> None:
    pty.say(rmc(FIXES[0]), gga(FIXES[0]))
    until(lambda: serial.got)
    assert serial.got[0].accuracy_m == 3.0


def test_a_receiver_that_never_tells_its_accuracy_is_a_fix_behind(
    pty: PtyReceiver, serial: Any
) -> None:
    pty.say(rmc(FIXES[0]), rmc(FIXES[1]))
    until(lambda: serial.got)
    assert [fix.accuracy_m for fix in serial.got] == [None]


def test_garbage_and_broken_checksums_are_counted_and_the_rest_is_used(
    pty: PtyReceiver, serial: Any
) -> None:
    broken = rmc(FIXES[1]).replace("A", "B", 1)
    pty.say(*sentences(FIXES[:1]), b"\xff\x00\x80garbage\r\n", "$GP", broken, "$GNRMC*5B")
    pty.say(*sentences(FIXES[2:3]))
    until(lambda: len(serial.got) == 2)
    assert serial.bad == 4
    assert [fix.time for fix in serial.got] == [FIXES[0].time, FIXES[2].time]


def test_a_line_that_never_ends_does_not_fill_the_memory(pty: PtyReceiver, serial: Any) -> None:
    for _ in range(5):
        pty.say(b"x" * LONGEST_LINE)
    until(lambda: serial.bad >= 2)
    pty.say(b"\r\n", *sentences(FIXES[:1]))
    until(lambda: serial.got)


def test_a_receiver_without_a_position_says_so(pty: PtyReceiver, serial: Any) -> None:
    pty.say(rmc(FIXES[0], valid=False))
    until(lambda: serial.state is State.WAITING)
    assert serial.got == []


def test_a_receiver_that_vanishes_is_said_and_heard_again_when_it_is_back(
    pty: PtyReceiver, serial: Any
) -> None:
    pty.say(*sentences(FIXES[:2]))
    until(lambda: len(serial.got) == 2)
    pty.pull_out()
    until(lambda: serial.state is State.LOST)
    pty.plug_in()
    until(lambda: serial.state is State.SILENT)
    pty.say(*sentences(FIXES[2:]))
    until(lambda: len(serial.got) == len(FIXES))


def test_a_receiver_that_is_not_there_is_looked_for(tmp_path: Path) -> None:
    got: list[Fix] = []
    receiver = NmeaReceiver(str(tmp_path / "none"), got.append, look_again_s=0.01)
    receiver.start()
    assert str(receiver.state) == "looking"
    with plugged(tmp_path / "none") as pty:
        until(lambda: receiver.state is State.SILENT)
        pty.say(*sentences(FIXES[:1]))
        until(lambda: got)
        receiver.stop()
    assert receiver.state is State.OFF


def test_a_file_that_is_no_serial_line_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "plain"
    path.write_text("$GPRMC", encoding="ascii")
    with pytest.raises(OSError, match="no serial line"), open_line(str(path), 4800):
        pass


def test_pyserial_is_used_where_it_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    class Port:
        in_waiting = 3

        def __init__(self, *words: Any, **more: Any) -> None:
            asked.append((*words, more))

        def __enter__(self) -> Any:
            return self

        def __exit__(self, *_: object) -> None:
            asked.append(("closed",))

        def read(self, count: int) -> bytes:
            return b"abcdef"[:count]

    monkeypatch.setitem(sys.modules, "serial", types.SimpleNamespace(Serial=Port))
    with open_line("COM3", 9600) as read:
        assert read() == b"abc"
    assert asked == [("COM3", 9600, {"timeout": 0.25}), ("closed",)]


def test_gpsd_is_asked_to_watch_and_its_reports_become_fixes(
    stand_in: GpsdStandIn, listening: Any
) -> None:
    first = {k: v for k, v in tpv(FIXES[0]).items() if k != "time"}
    stand_in.say({"class": "DEVICES", "devices": []}, first, {"class": "SKY", "hdop": 0.9})
    stand_in.say(tpv(FIXES[0]), tpv(FIXES[1]))
    until(lambda: len(listening.got) == 2)
    assert stand_in.asked == gpsd.WATCH
    assert listening.got == FIXES[:2]  # the report without a time is left out
    assert listening.state is State.FIX


def test_the_error_of_both_axes_stands_in_for_eph() -> None:
    report = tpv(FIXES[0], epx=3.0, epy=4.0)
    del report["eph"]
    assert gpsd.fix_of(report).accuracy_m == 5.0
    del report["epx"]
    assert gpsd.fix_of(report).accuracy_m is None


def test_odd_reports_of_gpsd_are_counted(stand_in: GpsdStandIn, listening: Any) -> None:
    stand_in.say(b"{nonsense\n", b"[1, 2]\n", tpv(FIXES[0], lat=91.0), tpv(FIXES[0], time="soon"))
    stand_in.say(tpv(FIXES[0], lon="x"), tpv(FIXES[1]))
    until(lambda: listening.got)
    assert (listening.bad, listening.got) == (5, [FIXES[1]])


def test_gpsd_without_a_position_and_with_its_receiver_unplugged_is_said(
    stand_in: GpsdStandIn, listening: Any
) -> None:
    stand_in.say({"class": "TPV", "mode": 1})
    until(lambda: listening.state is State.WAITING)
    stand_in.say({"class": "DEVICE", "path": "x", "activated": 0})
    until(lambda: listening.state is State.LOST)
    stand_in.say(tpv(FIXES[0]))
    until(lambda: listening.state is State.FIX)


def test_a_gpsd_that_hangs_up_is_called_again(stand_in: GpsdStandIn, listening: Any) -> None:
    stand_in.say(tpv(FIXES[0]))
    until(lambda: listening.got)
    stand_in.hang_up()
    until(lambda: stand_in.line is not None)
    stand_in.say(tpv(FIXES[1]))
    until(lambda: len(listening.got) == 2)


def test_a_real_gpsd_is_heard(tmp_path: Path) -> None:
    around = {**os.environ, "PATH": f"{os.environ.get('PATH', '')}:/usr/sbin"}  # gpsd's own place
    gpsfake = shutil.which("gpsfake")
    if gpsfake is None:
        pytest.skip("gpsfake is not here: apt-get install gpsd gpsd-clients")
    log = tmp_path / "walk.nmea"
    log.write_text("".join(f"{line}\r\n" for line in sentences(ring(40))), encoding="ascii")
    with GpsdPort() as port:
        number = port.number
    fake = subprocess.Popen(
        [gpsfake, "-q", "-n", "-c", "0.02", "-P", str(number), str(log)],
        env=around,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    got: list[Fix] = []
    receiver = gpsd.GpsdReceiver(got.append, port=number, look_again_s=0.05)
    receiver.start()
    try:
        until(lambda: len(got) >= 10, timeout_s=30.0)
    finally:
        receiver.stop()
        fake.terminate()
        fake.wait(10)
    assert all(fix.lat == pytest.approx(-36.5, abs=0.01) for fix in got)


class GpsdPort:
    """A port that is free at this moment."""

    def __enter__(self) -> Any:
        self._server = GpsdStandIn()
        self.number = self._server.port
        return self

    def __exit__(self, *_: object) -> None:
        self._server.close()


def test_a_replay_gives_every_fix_in_order_and_ends() -> None:
    got: list[Fix] = []
    replay = Replay(FIXES, got.append, pace=10_000.0)
    replay.start()
    until(lambda: replay.state is State.ENDED)
    assert got == FIXES
    replay.stop()


def test_a_replay_can_be_stopped_in_the_middle() -> None:
    got: list[Fix] = []
    replay = Replay(FIXES, got.append, pace=1.0)
    replay.start()
    until(lambda: got)
    replay.stop()
    assert len(got) < len(FIXES)


def write_gpx(path: Path, fixes: list[Fix]) -> None:
    points = "".join(
        f'<trkpt lat="{fix.lat}" lon="{fix.lon}"><time>{fix.time:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        for fix in fixes
    )
    path.write_text(f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>", encoding="utf-8")


def test_a_gpx_and_an_nmea_file_are_read(tmp_path: Path) -> None:
    write_gpx(tmp_path / "walk.gpx", FIXES)
    (tmp_path / "walk.nmea").write_text("\r\n".join(sentences(FIXES)), encoding="ascii")
    for name in ("walk.gpx", "walk.nmea"):
        assert [fix.time for fix in fixes_of_file(tmp_path / name)] == [f.time for f in FIXES]


@pytest.mark.parametrize(
    ("text", "error"), [("", UnreadableError), ("<gpx/>", UnreadableError), (None, UnknownError)]
)
def test_a_file_that_holds_no_walk_is_refused(tmp_path: Path, text: Any, error: Any) -> None:
    path = tmp_path / "walk.gpx"
    if text is not None:
        path.write_text(text, encoding="ascii")
    with pytest.raises(error):
        fixes_of_file(path)


def test_what_may_be_chosen_is_found(tmp_path: Path, stand_in: GpsdStandIn) -> None:
    devices, tracks = tmp_path / "dev", tmp_path / "tracks"
    devices.mkdir()
    tracks.mkdir()
    (devices / "ttyUSB0").touch()
    (devices / "tty1").touch()
    write_gpx(tracks / "walk.gpx", FIXES)
    (tracks / "photo.jpg").touch()
    found = receivers(tmp_path, devices=devices, gpsd_port=stand_in.port)
    assert [each.says for each in found] == [
        "Receiver on ttyUSB0",
        "Receiver of this device (gpsd)",
        "File walk.gpx",
    ]
    for each in found:
        make_receiver(each.name, print)
    alone = receivers(tmp_path, asked="gpsd:2947")
    assert [each.name for each in alone] == ["gpsd:2947"]


@pytest.mark.parametrize("name", ["", "serial:", "gpsd:x", "gpsd:99999", "radio:/dev/x"])
def test_a_receiver_of_another_form_is_refused(name: str) -> None:
    with pytest.raises(UnreadableError, match="serial:PORT"):
        make_receiver(name, print)
