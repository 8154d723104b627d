"""A record being entered, as a screen shows it: findings, answers and the words of the button.

The button's words change with what was found. Nothing odd: "Keep 0.42 m". Something odd: "Look
again: 4.20 m", and after that touch "Seen twice: keep 4.20 m", which keeps the value together
with the reason chosen. No finding ever refuses a value.
"""

import dataclasses
import enum
from collections.abc import Callable, Sequence
from typing import Final

from mobile.drafts import Draft, Saved
from shared_core.field_kinds import Choice
from shared_core.records.base import Answer, Finding, Severity
from shared_core.units import hectares, megalitres

REASONS: Final = ("Read twice", "Photo taken", "Second person read it")
MOST_LINES: Final = 4  # findings shown at once; the rest are counted


class Mood(enum.StrEnum):
    """How an entry looks so far; each has its own sign, words and colours."""

    EMPTY = "empty"
    FITS = "fits"
    NOTE = "note"
    LOOK = "look"
    CANNOT = "cannot"


MOOD_OF: Final = {Severity.STOP: Mood.CANNOT, Severity.ASK: Mood.LOOK, Severity.NOTE: Mood.NOTE}
IN_HAND: Final[dict[str, tuple[str, Callable[[float], float]]]] = {  # units as people say them
    "m2": ("ha", hectares),
    "m3": ("ML", megalitres),
}
_ORDER: Final = (Mood.CANNOT, Mood.LOOK, Mood.NOTE, Mood.FITS, Mood.EMPTY)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Line:
    """One finding under the number."""

    mood: Mood
    says: str
    field: str = ""
    suggests: str = ""  # what to type in the field instead
    suggests_words: str = ""  # the same as people read it


@dataclasses.dataclass(frozen=True, kw_only=True)
class Result:
    """One answer under the number: a figure with its unit, or words alone."""

    label: str
    figure: str = ""
    unit: str = ""
    spread: str = ""
    says: str = ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Button:
    """The main action, in words for this moment."""

    words: str
    tone: str  # off, go or look


@dataclasses.dataclass(frozen=True, kw_only=True)
class Seen:
    """Everything about an entry that does not depend on its kind."""

    lines: tuple[Line, ...]
    more_lines: int
    results: tuple[Result, ...]
    button: Button
    mood: Mood
    asking: bool  # the value was looked at again; the next touch keeps it with the reason
    reason: str
    wants_photo: bool = False  # a value that can hardly be is kept, and no photo shows it yet


class Entering:
    """Holds a draft while it is typed, and what was asked about it."""

    def __init__(self, draft: Draft, *, empty: str, quiet: str = "Nothing odd found.") -> None:
        """Take a draft, what the button says before anything is typed, and the words for all well."""
        self.draft = draft
        self._empty = empty
        self._quiet = quiet
        self._asking = False
        self._reason = REASONS[0]

    def type(self, field: str, text: str) -> None:
        """Take what a box now holds; it is on disk when this returns."""
        self.draft.type(field, text)
        self._asking = False

    def attach(self, field: str, text: str) -> None:
        """Take what hangs on the record, such as photos; a value asked about stays asked about."""
        self.draft.type(field, text)

    def text(self, field: str) -> str:
        """Return what a box holds."""
        return self.draft.typed.get(field, "")

    def again(self) -> None:
        """Go back to typing after the value was asked about."""
        self._asking = False

    def choose_reason(self, reason: str) -> None:
        """Take why a value that was asked about is kept."""
        self._reason = reason

    def seen(self, value: str) -> Seen:
        """Return what to show; *value* is the entry in a few words, such as "0.42 m"."""
        typed = any(text.strip() for text in self.draft.typed.values())
        findings = self.draft.findings() if typed else []
        lines = self._lines(findings)
        if typed and not lines:
            lines = [Line(mood=Mood.FITS, says=self._quiet)]
        mood = next((m for m in _ORDER if any(line.mood is m for line in lines)), Mood.EMPTY)
        return Seen(
            lines=tuple(lines[:MOST_LINES]),
            more_lines=max(0, len(lines) - MOST_LINES),
            results=tuple(_result(answer) for answer in self.draft.answers()),
            button=self._button(value, findings, typed=typed),
            mood=mood,
            asking=self._asking,
            reason=self._reason,
            wants_photo=self._asking
            and not self.text("photos")
            and any(finding.severity is Severity.STOP for finding in findings),
        )

    def _button(self, value: str, findings: Sequence[Finding], *, typed: bool) -> Button:
        if not typed:
            return Button(words=self._empty, tone="off")
        missing = self._missing(findings)
        if missing:
            return Button(words=f"Still needed: {missing}", tone="off")
        if self._asking:
            return Button(words=f"Seen twice: keep {value}".rstrip(), tone="look")
        if _asks(findings):
            return Button(words=f"Look again: {value}" if value else "Look again", tone="look")
        return Button(words=f"Keep {value}".rstrip(), tone="go")

    def _missing(self, findings: Sequence[Finding]) -> str:
        """Name the first box without which there is no record."""
        unread = {finding.field for finding in findings if finding.code == "unreadable"}
        return next((f.label for f in self.draft.fields if f.required and f.name in unread), "")

    def _lines(self, findings: Sequence[Finding]) -> list[Line]:
        fields = {field.name: field for field in self.draft.fields}
        lines = []
        for finding in findings:
            field, suggests = fields.get(finding.field), finding.suggests or ""
            words = field.answers.get(suggests, "") if isinstance(field, Choice) else suggests
            lines.append(
                Line(
                    mood=MOOD_OF[finding.severity],
                    says=finding.says,
                    field=finding.field,
                    suggests=suggests if field else "",
                    suggests_words=words,
                )
            )
        return sorted(lines, key=lambda line: _ORDER.index(line.mood))

    def press(self) -> Saved | None:
        """Touch the main action: keep the entry, or ask once to look again.

        Returns:
            What was saved, or None if nothing was written at this touch.
        """
        typed = any(text.strip() for text in self.draft.typed.values())
        findings = self.draft.findings() if typed else []
        if not typed or self._missing(findings):
            return None
        if _asks(findings) and not self._asking:
            self._asking = True
            return None
        reason = self._reason if self._asking else ""
        return self.save(reason=reason, keep_unread=self._asking)

    def save(self, *, reason: str, keep_unread: bool) -> Saved:
        """Write the entry down; what stands for several lines says how."""
        return self.draft.save(reason=reason, keep_unread=keep_unread)


def _asks(findings: Sequence[Finding]) -> bool:
    return any(finding.severity is not Severity.NOTE for finding in findings)


def _result(answer: Answer) -> Result:
    if answer.value is None or not answer.unit:
        return Result(label=answer.label, says=answer.says)
    unit, read = IN_HAND.get(answer.unit, (answer.unit, float))
    decimals = _decimals(unit, read(answer.value))
    spread = "" if answer.sd is None else f"± {read(answer.sd):.{decimals}f}"
    return Result(
        label=answer.label,
        figure=f"{read(answer.value):.{decimals}f}".replace("-", "\u2212"),
        unit=unit,
        spread=spread,
        says=answer.says,
    )


def _decimals(unit: str, value: float) -> int:
    """Return how many decimals say something: millimetres of a level, four figures of water."""
    if unit == "m":
        return 3
    return 0 if abs(value) >= 1000 else 1 if abs(value) >= 10 else 2
