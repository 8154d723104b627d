"""The one object that carries colours and text size; every rule binds to it."""

from pathlib import Path
from typing import Any, Final

from kivy.event import EventDispatcher
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty

from mobile.look import DAY, DUSK

_LOOK: Final = Path(__file__).parent.parent / "look.kv"


def _restyle(self: Any, *_: object) -> None:  # noqa: ANN401 - a class made below
    for token, colour in (DUSK if self.dusk else DAY).items():
        setattr(self, token, colour)
    self.changed += 1  # painters bind to this: bound to `dusk` they would run before the colours


# Made with type(): a Kivy property must be in the class body when the class is made; set later
# it stays nameless, and all of them share one value.
Theme: Any = type(
    "Theme",
    (EventDispatcher,),
    {
        **{token: ColorProperty(colour) for token, colour in DAY.items()},
        "dusk": BooleanProperty(defaultvalue=False),
        "changed": NumericProperty(0),
        "scale": NumericProperty(1.0),
        "on_dusk": _restyle,
    },
)
theme = Theme()


def load_look(rules: Path = _LOOK) -> None:
    """Load a file of rules once in a process, however many apps are started in it."""
    if str(rules) not in Builder.files:
        Builder.load_file(str(rules))
