"""A server with people and tablets around it, for the tests of this folder."""

import gzip
import struct
import zlib
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from shared_core.field_shapes import Position
from shared_core.identity import uuid7
from shared_core.logbook import Logbook, Said
from shared_core.records.base import Record
from shared_core.records.hazard import Hazard
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge import GaugeReading
from sync_server.access import Access, Invitation
from sync_server.access_store import Person
from sync_server.app import create_app
from sync_server.settings import Settings
from sync_server.store import Store
from sync_server.wire import Parts

START = datetime(2023, 8, 21, 0, 0, tzinfo=UTC)
SITE = "DUNNOCK"  # invented, as are all names here
OTHER_SITE = "SEDGE"


@dataclass
class Clock:
    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def tick(self, **span: float) -> None:
        self.now += timedelta(**span)


@dataclass
class Names:
    """Gives names in order; each maker has its own numbers."""

    maker: int = 0
    count: int = 0

    def __call__(self) -> str:
        self.count += 1
        return uuid7(1_692_576_000_000 + self.count, self.maker << 32 | self.count)


@dataclass
class Secrets:
    count: int = 0

    def __call__(self, length: int) -> bytes:
        self.count += 1
        return bytes((self.count * 37 + i * 11) % 256 for i in range(length))


@dataclass
class Tablet:
    """A logbook, the person who writes in it, and the token it got."""

    person: str
    device: str
    token: str
    logbook: Logbook

    def write(self, record: Record, record_id: str | None = None, **said: Any) -> str:
        entry = self.logbook.write(record, Said(author=self.person, **said), record_id=record_id)
        return entry.record

    def lines(self) -> list[str]:
        return self.logbook.lines_of(self.device, 0)

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"}


@dataclass
class Room:
    data: Path
    changes: dict[str, Any] = field(default_factory=dict)
    clock: Clock = field(default_factory=Clock)
    tablets: list[Tablet] = field(default_factory=list)

    def __post_init__(self) -> None:
        app = create_app(
            Settings(data=self.data, **self.changes),
            clock=self.clock,
            new_id=Names(),
            secret=Secrets(),
        )
        self.app = app
        self.client = TestClient(app, raise_server_exceptions=False)
        self.parts: Parts = app.state.parts

    @property
    def store(self) -> Store:
        return self.parts.store

    @property
    def access(self) -> Access:
        return self.parts.access

    def close(self) -> None:
        for tablet in self.tablets:
            tablet.logbook.close()
        self.client.close()
        self.access.store.close()
        self.store.close()

    def invite(self, name: str, role: str, *sites: str, minutes: float = 10) -> Invitation:
        return self.access.invite(Person(name=name, role=role, sites=sites), self.clock(), minutes)

    def tablet(self, name: str, role: str, *sites: str, device: str = "") -> Tablet:
        """Invite somebody and enrol a tablet of theirs over the wire."""
        invitation = self.invite(name, role, *sites)
        number = len(self.tablets) + 1
        device = device or f"{name[:3].upper()}-{number}"
        answer = self.client.post("/v1/enrol", json={"code": invitation.code, "device": device})
        assert answer.status_code == 200, answer.text
        logbook = Logbook(":memory:", device=device, clock=self.clock, new_id=Names(number))
        made = Tablet(name, device, answer.json()["token"], logbook)
        self.tablets.append(made)
        return made

    def post(self, tablet: Tablet, lines: list[str], **asked: Any) -> dict[str, Any]:
        answer = self.client.post(
            "/v1/entries",
            params=asked,
            content=gzip.compress("".join(f"{line}\n" for line in lines).encode()),
            headers={
                **tablet.headers,
                "Content-Type": "application/x-ndjson",
                "Content-Encoding": "gzip",
            },
        )
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found


def outcomes(answer: dict[str, Any]) -> list[str]:
    return [verdict["outcome"] for verdict in answer["verdicts"]]


def seen(point: str = "SG1", site: str = SITE, **more: Any) -> dict[str, Any]:
    return {
        "site": site, "visit": "V05", "point": point, "seen_at": START, "offset_min": 600,
        "time_source": "device", "observers": ("Ana",), **more,
    }  # fmt: skip


def gauge(stage_m: float = 0.42, site: str = SITE, **more: Any) -> GaugeReading:
    return GaugeReading(stage_m=stage_m, **{**seen("SG1", site), **more})


def meter(display: str = "004711", point: str = "M1", site: str = SITE) -> MeterReading:
    return MeterReading(**seen(point, site), display=display)


def rain(rain_mm: float = 4.2) -> RainReading:
    return RainReading(**seen("RG"), rain_mm=rain_mm, read_on=START.date())


def hazard() -> Hazard:
    return Hazard(**seen("H1"), hazard="crack")


def site(code: str = SITE) -> Site:
    return Site(
        site=code, valid_from=START - timedelta(days=30), name="Invented wetland",
        centre=Position(-34.0, 146.0), radius_m=400.0, standard_offset_min=600, epsg=7855,
        height_datum="invented",
    )  # fmt: skip


def png(width: int = 8, height: int = 6, filler: int = 0) -> bytes:
    """A sound PNG of one grey, with some bytes of text to make it longer."""

    def chunk(name: bytes, data: bytes) -> bytes:
        check = zlib.crc32(name + data)
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"".join(b"\0" + b"\x80" * width for _ in range(height)))
    text = bytes((i * 7 + 3) % 251 + 1 for i in range(filler))
    parts = [chunk(b"IHDR", header), chunk(b"tEXt", b"n\0" + text), chunk(b"IDAT", rows)]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts) + chunk(b"IEND", b"")
