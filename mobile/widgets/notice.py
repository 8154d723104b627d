"""A sentence that lies over the screen until it is read, such as that the disk is full."""

from collections.abc import Callable

from kivy.metrics import dp
from kivy.properties import StringProperty
from kivy.uix.anchorlayout import AnchorLayout

from mobile.widgets.key import Keep
from mobile.widgets.text import Card, Words


class Notice(AnchorLayout):
    """One sentence and, where one can go on, the key to do so."""

    says = StringProperty("")

    def __init__(self, says: str, read: Callable[[], None] | None = None) -> None:
        """Take the sentence, and what to do once it has been read."""
        super().__init__(padding=dp(24), says=says)
        card = Card(orientation="vertical", mood="look", size_hint_x=None)
        self.bind(width=lambda _, width: setattr(card, "width", min(width - dp(48), dp(640))))
        card.add_widget(Words(text=says, points=20, bold=True, shade="clay"))
        if read is not None:
            key = Keep(text="Understood", tone="go", size_hint_y=None, height=dp(92))
            key.test_id = "understood"
            key.bind(on_hit=lambda *_: read())
            card.add_widget(key)
        self.add_widget(card)
