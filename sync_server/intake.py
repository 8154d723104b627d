"""Files that people bring by hand: carry files, logbooks, weather, loggers and walks.

What a file is, its first bytes and its headings tell; its name does not matter. A file is read
whole before anything of it is written, and one that was taken in before changes nothing.
"""

import dataclasses
import hashlib
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta, timezone
from pathlib import Path
from typing import Final

from shared_core.carry import read_carry
from shared_core.errors import StrandlineError, UnknownError, UnreadableError
from shared_core.geodesy import local_projection
from shared_core.gpx import Walked
from shared_core.logbook import Logbook, Said
from shared_core.photo_folder import PhotoFolder
from shared_core.records.base import Record
from shared_core.records.logger_check import LoggerSeries
from shared_core.records.points_setup import LevelLogger
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Site
from shared_core.records.water_setup import WeatherSeries
from shared_core.track import USUAL_CLOSING, Fix
from sync_server import tables
from sync_server.access import Caller
from sync_server.data_folder import SQLITE_MARK
from sync_server.logbook_lines import lines_of_logbook
from sync_server.pictures import read_picture
from sync_server.store import Store
from sync_server.track_files import looks_like_gpx, looks_like_nmea, read_file, read_walks

ROWS_PER_RECORD: Final = 20_000  # about 0.8 MB of a logger's rows; an entry holds 1 MiB
DAY_STARTS: Final = time(9)  # rain and evaporation of a day are those until 09:00 standard time
ZIP_MARK: Final = b"PK\x03\x04"


@dataclass(frozen=True, kw_only=True)
class Wishes:
    """What the person at the machine says about the files."""

    by: str
    site: str | None = None
    logger: str | None = None
    visit: str = ""
    offset_min: float | None = None


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What became of one file."""

    file: str
    what: str
    taken: int = 0
    had: int = 0
    quarantined: int = 0
    photos: int = 0
    remarks: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()  # what of the file could not be taken in


class Intake:
    """Takes files into a store."""

    def __init__(
        self,
        store: Store,
        photos: PhotoFolder,
        *,
        owner_of: Callable[[str], Caller | None],
        wishes: Wishes,
    ) -> None:
        self._store = store
        self._photos = photos
        self._owner_of = owner_of
        self._wishes = wishes

    def take(self, path: Path) -> TakenIn:
        """Take a file in.

        Raises:
            UnknownError: if the file, its site or its logger is not known.
            UnreadableError: if it cannot be read; nothing of it was taken in.
            DamagedError: if a carry file or logbook is not what was once written.
        """
        if not path.is_file():
            raise UnknownError(f"there is no file {path}")
        with path.open("rb") as file:
            start = file.read(64)
        if start.startswith(ZIP_MARK):
            return self._carry(path)
        if start.startswith(SQLITE_MARK):
            return self._lines(path, "logbook", lines_of_logbook(path))
        if looks_like_gpx(start) or looks_like_nmea(start):
            return self._walks(path)
        return self._table(path)

    # entries ----------------------------------------------------------------------------------

    def _carry(self, path: Path) -> TakenIn:
        carried = read_carry(path)
        taken = self._lines(path, "carry file", list(carried.lines))
        photos, damaged = 0, []
        for sha256 in carried.photos:
            if self._photos.has(sha256):
                continue
            try:
                data = carried.photos[sha256]
                read_picture(io.BytesIO(data))
            except StrandlineError as error:
                damaged.append(f"photo {sha256} was left out: {error}")
            else:
                self._photos.put(data)
                photos += 1
        return dataclasses.replace(taken, photos=photos, damaged=tuple(damaged))

    def _lines(self, path: Path, what: str, lines: Sequence[str]) -> TakenIn:
        verdicts = self._store.carried_in(
            lines, source=f"{path.name}, brought by {self._wishes.by}", owner_of=self._owner_of
        )
        outcomes = [verdict.outcome for verdict in verdicts]
        return TakenIn(
            file=path.name,
            what=what,
            taken=outcomes.count("taken"),
            had=outcomes.count("had it"),
            quarantined=outcomes.count("quarantined"),
            remarks=tuple(dict.fromkeys(v.why for v in verdicts if v.outcome == "quarantined"))[:5],
        )

    # records ----------------------------------------------------------------------------------

    def _table(self, path: Path) -> TakenIn:
        data = read_file(path)
        table = tables.read_table(data)
        sha256 = hashlib.sha256(data).hexdigest()
        if tables.is_logged(table):
            return self._logger(path, table, sha256)
        if tables.is_weather(table):
            return self._weather(path, table, sha256)
        raise UnreadableError(
            f"{path.name} is neither a carry file, a logbook, GPX nor NMEA, and as a table "
            f"{tables.no_columns(table)}"
        )

    def _weather(self, path: Path, table: tables.Table, sha256: str) -> TakenIn:
        days = tables.weather(table).days
        with self._store.opened() as logbook:
            site = self._site(logbook)
            zone = timezone(timedelta(minutes=site.standard_offset_min))
            begins = datetime.combine(days[0][0] - timedelta(days=1), DAY_STARTS, zone)
            record = WeatherSeries(
                site=site.site,
                valid_from=begins,
                set_by=self._wishes.by,
                source=path.name[:200],
                file_sha256=sha256,
                values=days,
            )
            known = logbook.known().every(WeatherSeries, site.site)
            had = any(standing.record.file_sha256 == sha256 for standing in known)
            return self._written(logbook, path, f"{len(days)} days of weather", [record], had=had)

    def _logger(self, path: Path, table: tables.Table, sha256: str) -> TakenIn:
        with self._store.opened() as logbook:
            site = self._site(logbook)
            fitted = self._logger_fitted(logbook, site.site)
            series = tables.logged(table, self._offset_min(site, fitted))
            values = series.values
            if series.is_level:
                if fitted is None:
                    raise UnreadableError(
                        f"{path.name} holds levels; the level of its sensor is needed to read"
                        " them as depths: write down the logger as fitted first"
                    )
                values = tuple(
                    (at, None if level is None else round(level - fitted.sensor_level_m, 6))
                    for at, level in values
                )
            name = self._wishes.logger or (fitted.code if fitted else None)
            if name is None:
                raise UnknownError(f"which logger at {site.site} is {path.name} from? Name it")
            records = [
                LoggerSeries(
                    site=site.site,
                    valid_from=values[start][0],
                    set_by=self._wishes.by,
                    logger=name,
                    file_sha256=sha256,
                    source=path.name[:200],
                    values=values[start : start + ROWS_PER_RECORD],
                )
                for start in range(0, len(values), ROWS_PER_RECORD)
            ]
            known = logbook.known().every(LoggerSeries, site.site)
            had = any(standing.record.file_sha256 == sha256 for standing in known)
            what = f"{len(values)} values of logger {name}"
            return self._written(logbook, path, what, records, had=had)

    def _walks(self, path: Path) -> TakenIn:
        walks = read_walks(path)
        sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
        with self._store.opened() as logbook:
            site = self._site(logbook)
            records = [self._walk(site, walked, path.name, sha256) for walked in walks]
            known = logbook.known().every(ShorelineWalk, site.site)
            had = any(standing.record.as_typed.get("sha256") == sha256 for standing in known)
            fixes = sum(len(walked.fixes) for walked in walks)
            what = f"{len(walks)} walk{'s' if len(walks) > 1 else ''} of {fixes} fixes"
            remarks = [said for walked in walks for said in walked.left_out]
            return self._written(logbook, path, what, records, had=had, remarks=remarks)

    def _walk(self, site: Site, walked: Walked, file_name: str, sha256: str) -> ShorelineWalk:
        fixes = walked.fixes
        gap_m = _between_m(fixes[0], fixes[-1])
        return ShorelineWalk(
            site=site.site,
            visit=self._wishes.visit,
            point="",
            seen_at=fixes[0].time,
            offset_min=site.standard_offset_min,
            time_source="gnss",
            observers=(),
            as_typed={"file": file_name, "track": walked.name, "sha256": sha256},
            remark="; ".join(walked.left_out) or None,
            fixes=tuple((f.time, f.lat, f.lon, f.accuracy_m, f.speed_m_s) for f in fixes),
            receiver="file",
            closed=gap_m <= USUAL_CLOSING.gap_m,
            gap_m=round(gap_m, 1),
        )

    def _written(
        self,
        logbook: Logbook,
        path: Path,
        what: str,
        records: Sequence[Record],
        *,
        had: bool,
        remarks: Sequence[str] = (),
    ) -> TakenIn:
        if had:
            return TakenIn(file=path.name, what=what, had=len(records))
        for record in records:
            logbook.write(record, Said(author=self._wishes.by, note=f"taken in from {path.name}"))
        return TakenIn(file=path.name, what=what, taken=len(records), remarks=tuple(remarks))

    # what the records say ---------------------------------------------------------------------

    def _site(self, logbook: Logbook) -> Site:
        sites = {s.record.site: s.record for s in logbook.known().every(Site)}
        known = ", ".join(sorted(sites)) or "none yet"
        if self._wishes.site is None:
            if len(sites) == 1:
                return next(iter(sites.values()))
            raise UnknownError(f"which site is this file from? Known here are: {known}")
        if self._wishes.site not in sites:
            raise UnknownError(f"no site {self._wishes.site!r} here; known are: {known}")
        return sites[self._wishes.site]

    def _logger_fitted(self, logbook: Logbook, site: str) -> LevelLogger | None:
        fitted = [standing.record for standing in logbook.known().every(LevelLogger, site)]
        wanted = self._wishes.logger
        codes = {logger.code for logger in fitted}
        if wanted is None and len(codes) > 1:
            raise UnknownError(
                f"which logger at {site} is this file from? There are: {', '.join(sorted(codes))}"
            )
        return next((x for x in reversed(fitted) if wanted in (None, x.code)), None)

    def _offset_min(self, site: Site, fitted: LevelLogger | None) -> float:
        if self._wishes.offset_min is not None:
            return self._wishes.offset_min
        if fitted is not None and fitted.offset_min is not None:
            return fitted.offset_min
        return float(site.standard_offset_min)


def _between_m(start: Fix, end: Fix) -> float:
    east_m, north_m = local_projection(start.lat, start.lon).forward(end.lat, end.lon)
    return float((east_m**2 + north_m**2) ** 0.5)
