"""A bore being dipped, without a screen: how far apart the two dips are, and which way the water went."""

import dataclasses
from typing import Final

from mobile.drafts import Draft
from mobile.field_day import Device, FieldDay
from mobile.form_entry import FormEntry, FormShown
from mobile.pictures import Pictures
from shared_core.errors import UnreadableError
from shared_core.field_kinds import Field
from shared_core.records.bore import REPEAT_M, ROUNDING_M, BoreDip, below_casing_m
from shared_core.records.points_setup import Bore
from shared_core.units import MM_PER_M

DIPS: Final = ("dip_1_m", "dip_2_m")
BESIDE: Final = (*DIPS, "mark")  # what stands on top; the rest follows


@dataclasses.dataclass(frozen=True, kw_only=True)
class BoreShown(FormShown):
    """What the bore's screen shows."""

    apart: str
    apart_mood: str  # fits, look, or nothing yet
    water: str
    way: int  # 1 the water rose, -1 it fell, 0 neither or not known


class BoreEntry(FormEntry):
    """One bore on one visit."""

    def __init__(
        self,
        draft: Draft,
        day: FieldDay,
        point: str,
        device: Device,
        pictures: Pictures | None,
    ) -> None:
        """Take a draft, and the last dip of this bore to compare with."""
        super().__init__(draft, device, pictures)
        known = day.logbook.known()
        bore = known.in_force(Bore, day.site, device.now, point=point)
        self._bore = bore.record if bore else None
        last = known.before(BoreDip, day.site, device.now, point=point)
        self._last = last[0].record if last else None

    def field(self, name: str) -> Field:
        """Return a field by its name."""
        return next(field for field in self._draft.fields if field.name == name)

    @property
    def others(self) -> tuple[Field, ...]:
        """What follows under the dips and the mark."""
        return tuple(field for field in self.fields if field.name not in BESIDE)

    def shown(self) -> BoreShown:
        """Return what to show now."""
        shown = super().shown()
        apart, mood = self._apart()
        way, water = self._water()
        return BoreShown(
            title=shown.title, seen=shown.seen, apart=apart, apart_mood=mood, water=water, way=way
        )

    def _dips(self) -> list[float]:
        found = []
        for name in DIPS:
            try:
                found.append(float(self.field(name).read(self.text(name))))
            except UnreadableError:
                continue
        return found

    def _apart(self) -> tuple[str, str]:
        dips = self._dips()
        if len(dips) < 2:
            return "Dip twice; the two should agree within 10 mm.", ""
        apart_m = abs(dips[0] - dips[1])
        mood = "fits" if apart_m <= REPEAT_M + ROUNDING_M else "look"
        return f"The two dips are {apart_m * MM_PER_M:.0f} mm apart.", mood

    def _whole(self) -> BoreDip | None:
        """Return the dip as far as it can be read; None before both dips and the mark are there."""
        try:
            dip = self._draft.record(keep_unread=True)
        except UnreadableError:
            return None
        return dip if isinstance(dip, BoreDip) else None

    def _water(self) -> tuple[int, str]:
        """Say which way the water went since the last dip; a falling dip is rising water."""
        dip, last = self._whole(), self._last
        if dip is None or last is None:
            return 0, ""
        here, then = below_casing_m(dip, self._bore), below_casing_m(last, self._bore)
        if here is None or then is None:
            return 0, "The marks differ, so the change is not known."
        since = f"since {last.wall_clock:%d %b %Y}".replace(" 0", " ")
        change_mm = round((then - here) * MM_PER_M)
        if change_mm == 0:
            return 0, f"The water stands where it stood {since}."
        if change_mm > 0:
            return 1, f"The water has risen {change_mm} mm {since}: a shorter dip."
        return -1, f"The water has fallen {-change_mm} mm {since}: a longer dip."
