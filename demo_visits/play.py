"""Plays the invented season through the real parts: three tablets, an office, a server, HTTP.

Nothing here writes into a store: people type into ``FieldDay``, devices exchange over HTTP with a
server that runs as a process of its own, and the office corrects with entries and reasons.
"""

import random
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Final

from demo_visits import scenario
from demo_visits.acts import Act
from demo_visits.broken_line import BrokenLine, line_to
from demo_visits.coordinator import Coordinator, Told, key_of
from demo_visits.decisions import Decision, decisions
from demo_visits.ground import (
    DEEPEST_X_M,
    DEEPEST_Y_M,
    EPSG,
    ORIGIN_EASTING_M,
    ORIGIN_NORTHING_M,
    grid_to_lat_lon,
    supplied_terrain,
    write_ascii_grid,
)
from demo_visits.logger import write_logger_csv
from demo_visits.office import (
    first_day,
    in_force_from,
    plan_facts,
    point_facts,
    rating_fact,
    site_facts,
)
from demo_visits.photos import picture_of
from demo_visits.season import SENT_TWICE, act_named, acts
from demo_visits.server_process import answer_of, command, free_port, running
from demo_visits.tablet import KIND_NAMED, Tablet
from demo_visits.visits import visit_named
from demo_visits.walks import fixes_of, walk_named
from demo_visits.weather import write_weather_csv
from mobile.amend import amend
from shared_core.carry import write_carry
from shared_core.logbook import Said
from shared_core.records.base import Seen, SetUp
from shared_core.records.plan import WateringPlan
from sync_server.data_folder import LOGBOOK_NAME, reading_copy
from sync_server.grids import read_terrain
from sync_server.logbook_lines import opened_to_read

CARRY: Final = "season.strand"
DEM: Final = "terrain_supplied.asc"
EVENING: Final = time(19, 0)
# Evenings on which a tablet found no coverage on the way home and waited for the next.
NO_COVERAGE: Final = {
    scenario.HER_1: {"2023-09-14", "2023-10-17", "2023-11-20", "2024-01-16"},
    scenario.BIT_1: {"2023-09-06", "2023-11-20", "2024-02-01"},
    scenario.IC_1: {"2023-08-12", "2023-08-20", "2023-08-24", "2023-08-25", "2023-08-26"},
}
CUT_ON: Final = "2023-08-21"  # Heron's first walk breaks off in the middle of its upload
CUT_AT: Final = (9_000, 60_000)  # bytes carried, both ways
ALL_BYTES: Final = 4_000_000  # about what the whole season carries
OFFICE_DAYS: Final = "Monday"


class Season:
    """The season as it is played."""

    def __init__(
        self, folder: Path, say: Callable[[str], None], *, cuts: int = 0, seed: int = 0
    ) -> None:
        """Take an empty folder, a way to tell what happens, and how often the line breaks."""
        self.folder = folder
        self.say = say
        self.told = Told()
        self.data = folder / "server"
        self._marks = sorted(random.Random(seed).sample(range(ALL_BYTES), cuts))
        people = {person.name: person for person in scenario.PEOPLE}
        self.devices = {
            device.name: Tablet(folder / device.name, device.name, device.people[0])
            for device in scenario.DEVICES
        }
        self.roles = {device.name: people[device.people[0]].role for device in scenario.DEVICES}
        self.office = self.devices[scenario.OFFICE]
        self.coordinator = Coordinator(self.office, self.told)
        self._plan = ""
        self.digest = ""

    def close(self) -> None:
        """Put all devices away."""
        for device in self.devices.values():
            device.close()

    # the whole story ---------------------------------------------------------------------------

    def play(self) -> None:
        """Play set-up, season and corrections, with the server running throughout."""
        self.data.mkdir(parents=True, exist_ok=True)
        self._make_files()
        port = free_port()
        with running(self.data, port), self._line(port) as line:
            url = f"http://127.0.0.1:{line.port}"
            self._enrol(url)
            self._set_up(url)
            self._live(url, port)
            self.told.broke += line.broke
        self.digest = self._digest()
        self._pack_up()
        self._take_in_files()

    def _pack_up(self) -> None:
        """Put the whole season on a stick: what the office knows, in one file."""
        write_carry(
            self.folder / CARRY, self.office.logbook, self.office.photos,
            made_at=datetime.combine(scenario.SEASON_END, EVENING, scenario.STANDARD),
        )  # fmt: skip

    def _digest(self) -> str:
        """Return the state digest of what the devices wrote, before the office adds its files."""
        with reading_copy(self.data / LOGBOOK_NAME) as copy, opened_to_read(copy) as central:
            return central.digest()

    @contextmanager
    def _line(self, port: int) -> Iterator[BrokenLine]:
        with ExitStack() as stack:
            yield stack.enter_context(line_to(port, self._marks))

    def _make_files(self) -> None:
        write_ascii_grid(self.folder / DEM, supplied_terrain())
        write_weather_csv(self.folder / "weather.csv")
        write_logger_csv(self.folder / "PT1.csv")
        seed = f"{ORIGIN_EASTING_M + DEEPEST_X_M},{ORIGIN_NORTHING_M + DEEPEST_Y_M}"
        table = command(
            "rating", str(self.folder / DEM), "--seed", seed, "--epsg", str(EPSG), "--step", "0.01"
        )
        (self.folder / "rating.csv").write_text(table, encoding="utf-8")
        self.coordinator.terrain = read_terrain(self.folder / DEM, EPSG)
        self.say("Rating table made from the supplied terrain model (strandline-server rating).")

    def _enrol(self, url: str) -> None:
        for name, device in self.devices.items():
            role = self.roles[name]
            sites = (
                [scenario.SITE] if role == "landholder" else [scenario.SITE, scenario.OTHER_SITE]
            )
            words = [word for site in sites for word in ("--site", site)]
            invited = answer_of(
                "invite", device.author, "--role", role, *words, "--data", str(self.data)
            )
            device.enrol(url, str(invited["code"]))
        self.say(f"{len(self.devices)} devices enrolled with one-time codes.")

    def _set_up(self, url: str) -> None:
        office = self.office
        office.at(first_day())
        facts = [*site_facts(), *point_facts(), *plan_facts()]
        facts.append(rating_fact(self.folder / "rating.csv", DEM))
        for kind, site, typed in facts:
            office.day.site = site
            whole = {"valid_from": in_force_from(), **typed}
            office.day.record(KIND_NAMED[kind], key_of(kind, whole), whole)
        self._exchange(office, url)
        for device in self.devices.values():
            device.at(first_day() + timedelta(hours=2))
            self._exchange(device, url)
        self._plan = office.logbook.known().every(WateringPlan, scenario.SITE)[0].record_id
        self.say(f"{len(facts)} set-up facts written by the office have reached the tablets.")

    # day by day --------------------------------------------------------------------------------

    def _live(self, url: str, port: int) -> None:
        by_day: dict[str, list[Act]] = defaultdict(list)
        for act in acts():
            by_day[(act.written or act.when).date().isoformat()].append(act)
        waiting: set[str] = set()
        due = decisions()
        day = acts()[0].when.replace(hour=0, minute=0)
        month = ""
        while day.date() <= scenario.SEASON_END + timedelta(days=7):
            label = day.date().isoformat()
            if month != label[:7] and by_day:
                month = label[:7]
                self.say(f"{day:%B %Y}: {self._so_far()}")
            today = by_day.get(label, [])
            for act in today:
                self._write(act)
                waiting.add(act.device)
            for name in sorted(waiting):
                if label not in NO_COVERAGE.get(name, ()):
                    self._evening(self.devices[name], day, url, port)
                    waiting.discard(name)
            self._before_a_visit(by_day.get(_next(day), []), day, url)
            if f"{day:%A}" == OFFICE_DAYS:
                self._office_day([d for d in due if d.on <= day.date()], day, url)
                due = [d for d in due if d.on > day.date()]
            day += timedelta(days=1)
        for device in self.devices.values():
            device.at(day)
            self._exchange(device, url)
            self.told.news += len(device.day.news()[0]) if device is not self.office else 0
        self.say(f"Season closed: {self._so_far()}")

    def _so_far(self) -> str:
        told = self.told
        return (
            f"{told.sent} entries sent, {told.repeated} repeats harmless, {told.photos} photos,"
            f" line broke {told.broke} times"
        )

    def _write(self, act: Act) -> None:
        device = self.devices[act.device]
        kind = KIND_NAMED[act.kind]
        moment = act.written or act.stamped
        device.at(moment, _where(act))
        fixed: dict[str, object] = {}
        if issubclass(kind, Seen):
            device.day.arrive(
                act.site, act.who, code=act.visit or f"{act.device} {act.when.date()}"
            )
        else:
            device.day.site = act.site
        if act.written:
            fixed["seen_at"] = act.stamped
        if act.shares_record:
            self._write_on_plan(device, act)
            return
        texts = dict(act.typed)
        picture = picture_of(act)
        if picture is not None:
            fixed |= self._photo(device, act, picture)
        if act.track:
            fixed["fixes"] = tuple(
                (fix.time, fix.lat, fix.lon, fix.accuracy_m, fix.speed_m_s)
                for fix in fixes_of(walk_named(act.track))
            )
        if act.repeats:
            fixed["second_observer_of"] = self.told.written[act.repeats]
        if issubclass(kind, SetUp):
            texts = {"valid_from": _valid_from(act), "set_by": ", ".join(act.who), **texts}
        saved = device.write(act.kind, act.point, texts, **fixed)
        self.told.written[act.key] = saved.entry.record
        self.told.at_the_gauge[act.key] = list(saved.findings)

    def _photo(self, device: Tablet, act: Act, picture: bytes) -> Mapping[str, object]:
        name = device.photos.put(picture)
        if act.kind == "photo_taken":
            return {"sha256": name, "camera_time": act.stamped}
        return {"photos": (name,)}

    def _write_on_plan(self, device: Tablet, act: Act) -> None:
        amend(
            device.logbook, self._plan, act.typed,
            Said(author=device.author, note="Dry date as seen.", offset_min=660),
        )  # fmt: skip
        self.told.written[act.key] = self._plan
        self.told.at_the_gauge[act.key] = []

    def _evening(self, device: Tablet, day: datetime, url: str, port: int) -> None:
        device.at(datetime.combine(day.date(), EVENING, day.tzinfo))
        if device.name == scenario.HER_1 and f"{day.date()}" == CUT_ON:
            with line_to(port, CUT_AT) as bad:
                self._exchange(device, f"http://127.0.0.1:{bad.port}")
                self.told.broke += bad.broke
            self.say(f"{CUT_ON}: HER-1's upload broke off {len(CUT_AT)} times and went on.")
        self._exchange(device, url)
        for visit in SENT_TWICE:
            if (device.name, day.date()) == (
                visit_named(visit).device,
                visit_named(visit).start.date(),
            ):
                self._send_again(device, visit, url)

    def _send_again(self, device: Tablet, visit: str, url: str) -> None:
        """E17: the button pressed twice; the same lines arrive a second time."""
        keys = [key for key in self.told.written if key.startswith(f"{visit} ")]
        again = [
            device.logbook.history(self.told.written[key])[0].line
            for key in keys
            if act_named(key).device == device.name
        ]
        place = device.logbook.place_with("server")
        reply = device.peer(url).request(again, after=place.fetched, log=place.log)
        repeats = sum(verdict.outcome == "had it" for verdict in reply.verdicts)
        self.told.repeated += repeats
        self.say(f"{visit} arrived twice: {repeats} lines known already, nothing doubled.")

    def _before_a_visit(self, tomorrow: list[Act], day: datetime, url: str) -> None:
        """Teams fetch what others wrote on the evening before they leave coverage."""
        for name in sorted({act.device for act in tomorrow if act.visit}):
            if name not in (scenario.IC_1, scenario.OFFICE):
                device = self.devices[name]
                device.at(datetime.combine(day.date(), EVENING, day.tzinfo) + timedelta(hours=1))
                self._exchange(device, url)

    def _exchange(self, device: Tablet, url: str) -> None:
        moved, tries = device.exchange(url)
        self.told.sent += moved.entries.sent
        self.told.received += moved.entries.received
        self.told.repeated += moved.entries.had
        self.told.quarantined += len(moved.entries.quarantined)
        self.told.photos += moved.photos_sent
        self.told.tries += tries

    def _office_day(self, due: list[Decision], day: datetime, url: str) -> None:
        self.office.at(day.replace(hour=8))
        self._exchange(self.office, url)
        self.office.at(day.replace(hour=9))
        for decision in due:
            self.coordinator.decide(decision, day)
        if due:
            self._exchange(self.office, url)

    # files that come at the end ----------------------------------------------------------------

    def _take_in_files(self) -> None:
        where = ("--data", str(self.data))
        for name, words in (
            ("weather.csv", ("--site", scenario.SITE)),
            ("PT1.csv", ("--site", scenario.SITE, "--logger", scenario.LOGGER.name)),
        ):
            command("take-in", str(self.folder / name), *words, *where)
        self.say("Weather and logger files taken in (strandline-server take-in).")


def _next(day: datetime) -> str:
    return (day.date() + timedelta(days=1)).isoformat()


def _where(act: Act) -> tuple[float, float, float | None] | None:
    if act.position is None:
        return None
    lat, lon = grid_to_lat_lon(*act.position)
    return round(lat, 7), round(lon, 7), 4.0


def _valid_from(act: Act) -> str:
    for meter in scenario.METERS:
        if act.kind == "meter_fitted" and act.point == meter.name:
            return meter.fitted.isoformat()
    return act.stamped.isoformat()
