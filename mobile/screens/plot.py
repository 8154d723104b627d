"""A vegetation plot: was the peg found, then the plants as cards, one open at a time."""

from typing import Any

from kivy.clock import Clock
from kivy.uix.widget import Widget

from mobile.drafts import Draft
from mobile.form_entry import FormEntry
from mobile.next_point import next_point
from mobile.plot_entry import LAYER, Cells, PlotEntry, PlotShown
from mobile.screens.record_form import FormPage
from mobile.widgets.boxes import box
from mobile.widgets.key import Choice
from mobile.widgets.panel import PanelKeys
from mobile.widgets.row import RowKey
from mobile.widgets.text import Card, Column, Heading, Words
from shared_core.fields import fields_of
from shared_core.records.points_setup import PlotSet
from shared_core.records.vegetation_plot import SPECIES_COLUMNS, PlotScore

REST = ("area_m2", "scale", "water_depth_m", "disturbance", "remark", "photos")
CLOSED = -1
OBSERVERS = next(field for field in fields_of(PlotScore) if field.name == "observers")


class PlantCard(Column):
    """One plant, open: a box for each of its cells."""


class PlotPage(FormPage):
    """Shows a plot being scored."""

    open_place = CLOSED
    sums: Words

    def take_up(self, **what: str) -> None:
        self.open_place = CLOSED
        super().take_up(**what)

    def begun(self, draft: Draft) -> FormEntry:
        tablet = self.tablet
        return PlotEntry(draft, tablet.day, self.point, tablet.device(), tablet.pictures)

    def parts(self) -> list[Widget]:
        entry = self.entry
        if not isinstance(entry, PlotEntry):
            return super().parts()
        shown = entry.shown()
        parts: list[Widget] = [self._found(shown)]
        if shown.found == "yes":
            parts += [*self._plants(entry, shown), *self._layer(entry, shown)]
        if shown.found:
            parts += self._second(entry, shown)
            names = REST if shown.found == "yes" else ("remark", "photos")
            parts += [box(entry.field(name), entry, self.show) for name in names]
        return parts

    def _found(self, shown: PlotShown) -> Widget:
        card = Card(orientation="vertical")
        card.add_widget(Words(text="Was the peg found?", bold=True, points=18))
        keys = PanelKeys()
        for word, words in (("yes", "Yes, found"), ("no", "Not found")):
            key = Choice(text=words, send=word, chosen=word == shown.found, points=18, late=True)
            key.test_id = f"found {word}"
            key.bind(on_hit=lambda _, word: self._do("choose_found", word))
            keys.add_widget(key)
        card.add_widget(keys)
        return card

    def _plants(self, entry: PlotEntry, shown: PlotShown) -> list[Widget]:
        parts: list[Widget] = [Heading(text="Plants")]
        for place, plant in enumerate(shown.plants):
            row = RowKey(
                title=plant.title, says=plant.says, mood=plant.mood, test_id=f"plant {place + 1}"
            )
            row.bind(on_hit=lambda *_, place=place: self._open(place))
            parts.append(row)
            if place == self.open_place:
                parts.append(self._card(entry, place))
        keys = PanelKeys()
        for name in ("", *shown.last_time):
            key = Choice(text=f"Add {name}" if name else "Add a plant", points=18, late=True)
            key.test_id = f"add {name}" if name else "add plant"
            key.bind(on_hit=lambda *_, name=name: self._add(entry, name))
            keys.add_widget(key)
        return [*parts, keys]

    def _card(self, entry: PlotEntry, place: int) -> PlantCard:
        cells = Cells(entry, place, self.tablet.device())
        card = PlantCard()
        for column in SPECIES_COLUMNS:
            card.add_widget(box(column, cells, self.show))
        drop = Choice(text="Take this plant out", points=18, late=True, test_id="drop plant")
        drop.size_hint_y, drop.height = None, 64
        drop.bind(on_hit=lambda *_: self._drop(entry, place))
        card.add_widget(drop)
        return card

    def _layer(self, entry: PlotEntry, shown: PlotShown) -> list[Widget]:
        self.sums = Words(text=shown.sum_words, points=17, shade="ink2", test_id="sums")
        boxes: list[Widget] = [box(entry.field(name), entry, self.show) for name in LAYER]
        return [Heading(text="Ground"), *boxes, self.sums]

    def _second(self, entry: PlotEntry, shown: PlotShown) -> list[Widget]:
        if not shown.second_of:
            return []
        keys = PanelKeys(cols=1)
        key = Choice(text=shown.second_of, points=18, late=True, test_id="second")
        key.chosen = bool(entry.text("second_observer_of"))
        key.bind(on_hit=lambda *_: self._do("call_second"))
        keys.add_widget(key)
        name = [box(OBSERVERS, entry, self.show)] if key.chosen else []
        return [keys, *name]

    # intents ---------------------------------------------------------------------------------

    def _do(self, intent: str, *what: Any) -> None:  # noqa: ANN401 - what the intent takes
        getattr(self.entry, intent)(*what)
        self._afresh()

    def _afresh(self) -> None:
        """Build the column again, with what was at its top still there."""
        scroll, column = self.face.ids.scroll, self.face.ids.boxes
        down = (1 - scroll.scroll_y) * max(0.0, column.height - scroll.height)
        self._build()
        self._activate(None)
        Clock.schedule_once(lambda _: self._scroll_down(down), 0)

    def _scroll_down(self, down: float) -> None:
        scroll, column = self.face.ids.scroll, self.face.ids.boxes
        room = column.height - scroll.height
        scroll.effect_y.velocity = 0  # what still rolled, rolled over another column
        scroll.scroll_y = 1 - min(1.0, max(0.0, down / room)) if room > 0 else 1

    def _open(self, place: int) -> None:
        self.open_place = CLOSED if self.open_place == place else place
        self._afresh()

    def _add(self, entry: PlotEntry, name: str) -> None:
        self.open_place = entry.add_plant(name)
        self._afresh()

    def _drop(self, entry: PlotEntry, place: int) -> None:
        entry.drop_plant(place)
        self.open_place = CLOSED
        self._afresh()

    def show(self) -> None:
        super().show()
        shown = self.entry.shown()
        if not isinstance(shown, PlotShown):
            return
        if shown.found == "yes":
            self.sums.text = shown.sum_words
        rows = [made for made in self.face.ids.boxes.children if isinstance(made, RowKey)]
        for row, plant in zip(reversed(rows), shown.plants, strict=False):
            row.title, row.says, row.mood = plant.title, plant.says, plant.mood

    def kept(self) -> None:
        plot = next_point(self.tablet.day, PlotSet, PlotScore, self.point)
        if not plot:
            self.router.back()
            return
        self.tell(
            f"Plot {self.point} is kept.",
            (f"Next plot: {plot}", lambda: self.router.go("plot", kind=PlotScore.kind, point=plot)),
        )
