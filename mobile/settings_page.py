"""How the app looks and where positions come from, kept in the identity file. No Kivy."""

import dataclasses
from pathlib import Path
from typing import Final

from mobile.device.choice import receivers
from mobile.identity import Identity
from mobile.look import TEXT_SCALES
from mobile.tablet import Tablet
from shared_core.errors import UnreadableError

LAYOUTS: Final = {"auto": "By the width of the screen", "tall": "Always in one column"}
DENSITIES: Final = {  # pixels a dp; desktop Linux says 1 whatever the screen
    0.0: "As the system says",
    1.0: "1",
    1.25: "1.25",
    1.5: "1.5",
    2.0: "2",
    3.0: "3",
}
NO_RECEIVER: Final = "None: positions are left out"
AT_NEXT_START: Final = "It takes effect when the app is started again."


@dataclasses.dataclass(frozen=True, kw_only=True)
class Option:
    """One answer to a setting."""

    code: str
    words: str
    chosen: bool


@dataclasses.dataclass(frozen=True, kw_only=True)
class Setting:
    """One thing that can be set."""

    code: str
    heading: str
    says: str
    options: tuple[Option, ...]


class SettingsEntry:
    """What can be set on this device; each choice is on disk at once."""

    def __init__(self, tablet: Tablet, folder: Path | None) -> None:
        """Take the tablet, and its data folder to look for receivers' files in."""
        self._tablet = tablet
        self._receivers = receivers(folder) if folder is not None else ()

    def shown(self) -> tuple[Setting, ...]:
        """Return what to show."""
        identity = self._tablet.identity
        return (
            _setting(
                "look",
                "Colours",
                "",
                {"day": "Day, for full sun", "dusk": "Dusk"},
                "dusk" if identity.dusk else "day",
            ),
            _setting(
                "scale",
                "Text size",
                "",
                {f"{scale:g}": f"{scale:.0%}" for scale in TEXT_SCALES},
                f"{identity.text_scale:g}",
            ),
            _setting("layout", "Wide or tall", "", LAYOUTS, identity.layout),
            _setting(
                "density",
                "Size of everything, on a desktop system",
                AT_NEXT_START,
                {f"{density:g}": words for density, words in DENSITIES.items()},
                f"{identity.density:g}",
            ),
            self._receiver(identity),
        )

    def _receiver(self, identity: Identity) -> Setting:
        found = {"": NO_RECEIVER, **{each.name: each.says for each in self._receivers}}
        if identity.receiver and identity.receiver not in found:
            found[identity.receiver] = f"{identity.receiver}, not there now"
        return _setting("receiver", "Satellite receiver", AT_NEXT_START, found, identity.receiver)

    def choose(self, setting: str, code: str) -> None:
        """Take a choice; it is on disk when this returns.

        Raises:
            UnreadableError: if there is no such setting or answer.
        """
        known = {each.code: {option.code for option in each.options} for each in self.shown()}
        if code not in known.get(setting, ()):
            raise UnreadableError(f"{setting} cannot be {code!r}")
        if setting == "look":
            self._tablet.become(dusk=code == "dusk")
        elif setting == "scale":
            self._tablet.become(text_scale=float(code))
        elif setting == "density":
            self._tablet.become(density=float(code))
        elif setting == "layout":
            self._tablet.become(layout=code)
        else:
            self._tablet.become(receiver=code)


def _setting(code: str, heading: str, says: str, answers: dict[str, str], chosen: str) -> Setting:
    options = tuple(
        Option(code=word, words=words, chosen=word == chosen) for word, words in answers.items()
    )
    return Setting(code=code, heading=heading, says=says, options=options)
