"""The coordinator at the desk: looks at what came in, decides, and says why."""

import dataclasses
from collections.abc import Mapping
from datetime import datetime, timedelta

from demo_visits import scenario
from demo_visits.decisions import Decision
from demo_visits.planted import PlantedError
from demo_visits.tablet import KIND_NAMED, Tablet
from mobile.amend import amend
from shared_core.logbook import Said
from shared_core.records.base import Finding, Seen
from shared_core.records.plan import PlannedVisit
from sync_server.grids import Terrain
from sync_server.review import review


@dataclasses.dataclass
class Told:
    """What the season showed: findings by act and by decision, and what moved."""

    written: dict[str, str] = dataclasses.field(default_factory=dict)  # act to record
    at_the_gauge: dict[str, list[Finding]] = dataclasses.field(default_factory=dict)
    in_the_office: dict[str, list[Finding]] = dataclasses.field(default_factory=dict)
    sent: int = 0
    received: int = 0
    repeated: int = 0  # lines the server had already
    quarantined: int = 0
    photos: int = 0
    broke: int = 0
    tries: int = 0
    news: int = 0  # corrections that reached the tablets of those who had written


class Coordinator:
    """Ruth, her desk, and what the season has told her."""

    def __init__(self, office: Tablet, told: Told) -> None:
        self.office = office
        self.told = told
        self.terrain: Terrain | None = None

    def _look(self, error: PlantedError, day: datetime) -> None:
        """Keep what the coordinator's list says about the records of an error, before deciding."""
        if error.id in self.told.in_the_office:
            return
        keys = [key for correction in error.corrections for key in correction.acts]
        record_ids = [self.told.written[key] for key in (*error.acts, *keys)]
        if any(correction.action == "mark missing" for correction in error.corrections):
            record_ids += self._planned_on(error.day)
        seen = self.told.in_the_office.setdefault(error.id, [])
        for record_id in dict.fromkeys(record_ids):
            standing = self.office.logbook.standing(record_id)
            if standing is not None:
                beside = self.office.logbook.known(without=record_id, now=day)
                seen += review(standing, beside, terrain=self.terrain)

    def _planned_on(self, day: str) -> list[str]:
        planned = self.office.logbook.known().every(PlannedVisit, scenario.SITE)
        return [standing.record_id for standing in planned if day in standing.record.code]

    def decide(self, decision: Decision, day: datetime) -> None:
        office = self.office
        records = self._records_of(decision)
        self._look(decision.error, day)
        said = Said(author=scenario.RUTH, note=decision.correction.reason, offset_min=600)
        texts = dict(decision.correction.values)
        match decision.correction.action:
            case "leave":
                return
            case "set up":
                office.day.site = scenario.SITE
                kind = KIND_NAMED[decision.correction.kind]
                draft = office.day.draft(kind, key_of(decision.correction.kind, texts))
                for name, text in texts.items():
                    draft.type(name, text)
                draft.save(reason=said.note)
            case "shift clock":
                by = timedelta(minutes=float(texts["minutes"]))
                for record_id in records:
                    standing = office.logbook.standing(record_id)
                    if standing is not None and isinstance(standing.record, Seen):
                        moved = (standing.record.seen_at + by).isoformat()
                        amend(office.logbook, record_id, {"seen_at": moved}, said)
            case _:
                for record_id in dict.fromkeys(records):
                    amend(office.logbook, record_id, texts, said)

    def _records_of(self, decision: Decision) -> list[str]:
        if decision.correction.action == "mark missing":
            return self._planned_on(decision.error.day)
        keys = decision.correction.acts or decision.error.acts
        return [self.told.written[key] for key in keys]


def key_of(kind: str, typed: Mapping[str, str]) -> str:
    """Return a word that tells two drafts of one kind apart."""
    named = typed.get("code") or typed.get("gauge") or typed.get("meter") or typed.get("name", "")
    return f"{kind} {named}"
