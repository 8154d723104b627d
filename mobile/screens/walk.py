"""The shoreline walk: the track as it grows, what it measures, and how far the start is."""

from mobile.screens.page import Face, Page, load_rules
from mobile.walk_shown import KeyShown, WalkShown, walk_shown
from mobile.walking import Walking
from mobile.widgets.key import Choice
from mobile.widgets.strip import FindingCard
from mobile.widgets.track import TrackMap  # noqa: F401 - named in walk.kv


class ReceiverCard(FindingCard):
    """How the receiver is, with the sign of it."""


class WalkWide(Face):
    """Track at the left, figures and keys at the right."""


class WalkTall(Face):
    """Track on top, keys under the thumb."""


load_rules(__file__)


class WalkPage(Page):
    """Shows a walk round the site where the visit is."""

    walking: Walking

    def take_up(self, **what: str) -> None:
        del what
        walks = self.tablet.walks
        if walks is None:
            raise ValueError("the walk screen needs the walks of this device")
        self.walking = walks.at(self.tablet.day)
        walks.listener = self._heard
        self._keys: tuple[KeyShown, ...] | None = None
        self._results: object = None

    def face_for(self, *, wide: bool) -> Face:
        self._keys = self._results = None
        return WalkWide(page=self) if wide else WalkTall(page=self)

    def _heard(self, walking: Walking) -> None:
        """Show what a receiver has sent, unless another screen is shown."""
        if walking is self.walking and self.router.current == self.name:
            self.show()

    def show(self) -> None:
        shown = walk_shown(self.walking)
        ids = self.face.ids
        self.head("Shoreline walk", shown.sub)
        ids.track.follow(self.walking.track, self.walking.outline)
        if shown.results != self._results:
            self._results = shown.results
            ids.answers.fill(shown.results)
        ids.receiver.mood, ids.receiver.says = str(shown.receiver.mood), shown.receiver.says
        ids.lines.text = shown.lines
        self._show_seen(shown)
        ids.question.text = shown.question
        if shown.keys != self._keys:
            self._keys = shown.keys
            self._show_keys(shown.keys)
        ids.keep.text, ids.keep.tone = shown.button.words, shown.button.tone

    def _show_seen(self, shown: WalkShown) -> None:
        ids = self.face.ids
        if shown.seen is None:
            ids.findings.clear_widgets()
            ids.others.text = ""
            return
        ids.findings.fill(shown.seen)
        ids.others.text = "\n".join(f"{each.label}: {each.says}" for each in shown.seen.results)

    def _show_keys(self, keys: tuple[KeyShown, ...]) -> None:
        grid = self.face.ids.touches
        grid.clear_widgets()
        for each in keys:
            key = Choice(
                text=each.words, send=each.send, chosen=each.chosen, points=18 if self.wide else 16,
                late=True, test_id=f"walk {each.send}",
            )  # fmt: skip
            key.bind(on_hit=lambda _, code: self.press(code))
            grid.add_widget(key)

    def press(self, code: str) -> None:
        """Pass a key on."""
        self.walking.press(code)
        self.show()

    def keep(self) -> None:
        """Touch the main action."""
        if self.walking.main() is None:
            self.show()
        else:
            self.router.back()
