"""Arriving: what others warn of, weather, clean-down, the clock, the plan and what is owed."""

from collections.abc import Callable

from mobile.arrival import CLEANED, WINDS, YES_NO, Arrival, ArrivalShown, ClockShown
from mobile.screens.cards import CardsPage, card, choice, choices, heading, plain, writing
from mobile.site_page import CAUTION
from mobile.widgets.text import Card, Column, Words
from shared_core.records.base import Severity
from shared_core.records.visit import WEATHER


class ArrivePage(CardsPage):
    """Shows one arrival."""

    arrival: Arrival
    _difference: Words

    def take_up(self, **what: str) -> None:
        del what
        self.arrival = Arrival(self.tablet.day, corrections=len(self.tablet.news()))

    def fill(self, first: Column, second: Column) -> None:
        shown = self.arrival.shown()
        self.head("Arriving", shown.here_already or self.tablet.day.site)
        across = 3 if self.wide else 2
        _hazards(first, shown)
        if shown.access:
            first.add_widget(card(plain(shown.access, shade="ink"), title="Access"))
        first.add_widget(
            card(choices(WEATHER, self.arrival.text("weather"), self._set("weather"), "weather", across=across),
                 title="Weather")
        )  # fmt: skip
        first.add_widget(
            card(choices(WINDS, shown.wind, self._set("wind_m_s"), "wind", across=across),
                 title="Wind, by what it does")
        )  # fmt: skip
        how = {word: word for word in CLEANED}
        first.add_widget(
            card(
                choices(YES_NO, shown.clean, self._set("clean_on_arrival"), "clean"),
                plain("How"),
                choices(how, shown.clean_how, self._set("clean_how"), "how", across=across),
                title="Clean-down done on arrival",
            )
        )
        second.add_widget(self._clock(shown.clock))
        _plan(second, shown)
        second.add_widget(plain(CAUTION, points=17))
        self.main(shown.button, "go")

    def _clock(self, clock: ClockShown) -> Card:
        self._difference = plain(_clock_words(clock), shade="ink")
        made = card(
            plain(f"This device: {clock.device}"),
            writing(self.arrival.watch, self._type_watch, "watch", hint="A watch shows, as 08:05"),
            self._difference,
            title="Clock check",
            mood=clock.mood if clock.mood == "look" else "",
        )
        if clock.has_fix:
            made.add_widget(choice("Take the satellite fix", self._use_fix, "use fix"))
        words = "Keep this device's time" if clock.taken else "Take the other time for this visit"
        made.add_widget(choice(words, self._take_time, "take time"))
        return made

    def _set(self, field: str) -> Callable[[str], None]:
        def take(word: str) -> None:
            self.arrival.choose(field, word)
            self.show()

        return take

    def _type_watch(self, text: str) -> None:
        self.arrival.type_watch(text)
        self._difference.text = _clock_words(self.arrival.clock())

    def _use_fix(self) -> None:
        self.arrival.use_fix()
        self.show()

    def _take_time(self) -> None:
        if self.arrival.clock().taken:
            self.arrival.take_own_time()
        else:
            self.arrival.take_other_time()
        self.show()

    def act(self) -> None:
        """Write the visit down."""
        self.arrival.arrive()
        self.router.back()


def _clock_words(clock: ClockShown) -> str:
    if clock.wrong:
        return clock.wrong
    if not clock.other:
        return "Not compared yet: type what a watch or a receiver shows now."
    return f"The other: {clock.other}. {clock.difference}"


def _hazards(column: Column, shown: ArrivalShown) -> None:
    column.add_widget(heading("Pinned by other teams"))
    if not shown.hazards:
        column.add_widget(card(plain("No hazard of another team has reached this device.")))
    for line in shown.hazards:
        mood = "cannot" if line.within else "look"
        column.add_widget(card(plain(line.says, shade="ink"), title=line.title, mood=mood))


def _plan(column: Column, shown: ArrivalShown) -> None:
    if shown.plan:
        items = "\n".join(f"• {item}" for item in shown.plan[1:])
        column.add_widget(
            card(*((plain(items, shade="ink"),) if items else ()), title=f"Plan {shown.plan[0]}")
        )
    column.add_widget(heading("Owed here"))
    if not shown.owed:
        column.add_widget(card(plain("Nothing is owed by the calendar.")))
    for owed in shown.owed:
        column.add_widget(card(plain(owed.says), title=owed.title))
    for finding in shown.findings:
        if finding.severity is not Severity.NOTE:
            column.add_widget(card(plain(finding.says, shade="clay"), mood="look"))
