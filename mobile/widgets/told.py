"""What was kept, and the ways on from there."""

from collections.abc import Callable, Sequence

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from mobile.widgets.key import Keep
from mobile.widgets.strip import FindingCard
from mobile.widgets.theme import theme


class Told(BoxLayout):
    """Says one thing and offers a few keys, the likeliest first."""

    def __init__(self, says: str, ways: Sequence[tuple[str, Callable[[], object]]]) -> None:
        """Take what to say, and the words and the act of each key."""
        super().__init__(orientation="vertical", padding=dp(24), spacing=dp(16))
        self.add_widget(FindingCard(mood="fits", says=says, points=22))
        self.add_widget(Widget())
        for place, (words, act) in enumerate(ways):
            key = Keep(text=words, tone="plain" if place else "go", late=True)
            key.size_hint_y, key.height = None, dp(84) * max(1.0, theme.scale)
            key.points, key.test_id = 20, words
            key.bind(on_hit=lambda *_, act=act: act())
            self.add_widget(key)
