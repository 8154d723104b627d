"""How the app looks, and where positions come from."""

from mobile.screens.history import ListTall, ListWide
from mobile.screens.page import Face, Page
from mobile.settings_page import Setting, SettingsEntry
from mobile.widgets.key import Choice
from mobile.widgets.panel import PanelKeys
from mobile.widgets.text import Card, Words
from mobile.widgets.theme import theme


class SettingsPage(Page):
    """Shows what can be set; each choice is kept at once."""

    entry: SettingsEntry

    def take_up(self, **what: str) -> None:
        del what
        self.entry = SettingsEntry(self.tablet, self.tablet.folder)

    def face_for(self, *, wide: bool) -> Face:
        return ListWide(page=self) if wide else ListTall(page=self)

    def show(self) -> None:
        self.head("Settings", "Kept on this device")
        column = self.face.ids.cards
        column.clear_widgets()
        for setting in self.entry.shown():
            column.add_widget(self._card(setting))
        if self.practice.on_offer or self.tablet.practice:
            words = "End practice" if self.tablet.practice else "Practise on an invented site"
            key = Choice(text=words, points=18, late=True, test_id="set practice")
            key.bind(on_hit=lambda *_: self.practice.turn(on=not self.tablet.practice))
            column.add_widget(key)

    def _card(self, setting: Setting) -> Card:
        card = Card(orientation="vertical")
        card.add_widget(Words(text=setting.heading, bold=True))
        if setting.says:
            card.add_widget(Words(text=setting.says, points=16, shade="ink2"))
        keys = PanelKeys()
        for option in setting.options:
            key = Choice(
                text=option.words,
                send=option.code,
                chosen=option.chosen,
                points=17,
                late=True,
                test_id=f"set {setting.code} {option.code}".strip(),
            )
            key.bind(on_hit=lambda _, code, what=setting.code: self.choose(what, code))
            keys.add_widget(key)
        card.add_widget(keys)
        return card

    def choose(self, setting: str, code: str) -> None:
        """Take a choice and show it at once."""
        self.entry.choose(setting, code)
        identity = self.tablet.identity
        theme.dusk, theme.scale = identity.dusk, identity.text_scale
        if setting == "layout":
            self._arrange()
        self.show()
