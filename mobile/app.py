"""The app: the only place where the parts of the tablet meet."""

import dataclasses
import secrets
import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, cast

from kivy.app import App
from kivy.base import ExceptionHandler, ExceptionManager
from kivy.clock import Clock
from kivy.config import Config
from kivy.uix.screenmanager import NoTransition, ScreenManager
from kivy.uix.widget import Widget

from mobile import practice
from mobile.courier import Courier, Delivery, HttpPeer, deliver, on_screen_thread
from mobile.device.lock import FolderLock
from mobile.field_day import Device, FieldDay
from mobile.identity import Identity, keep_identity, read_identity
from mobile.pictures import Pictures
from mobile.router import Router, Shown
from mobile.tablet import Tablet
from mobile.walks import Walks
from mobile.widgets import row, strip, text  # noqa: F401 - named in look.kv
from mobile.widgets.notice import Notice
from mobile.widgets.theme import load_look, theme
from mobile.worker import Worker
from shared_core.errors import StrandlineError, UnknownError
from shared_core.identity import uuid7
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder

FAULTS: Final = "faults.log"
LOGBOOK: Final = "logbook.sqlite"
WALK_STEP_S: Final = 0.5  # between two looks at what a receiver has sent
BACK: Final = 27  # Esc on a keyboard, the back gesture on Android

Clockwork = Callable[[], datetime]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Options:
    """What was asked on the command line."""

    folder: Path
    server: str = ""
    device: str = ""
    offer_practice: bool = True
    receiver: str = ""  # the only one offered for a walk


def now() -> datetime:
    """Return the time of this device's clock, UTC."""
    return datetime.now(UTC)


def new_id() -> str:
    """Return a name that nothing else has."""
    return uuid7(int(now().timestamp() * 1000), secrets.randbits(74))


def device_now(clock: Clockwork) -> Device:
    """Return what this device knows of itself; a receiver is not asked yet."""
    moment = clock()
    offset = moment.astimezone().utcoffset()
    return Device(now=moment, offset_min=0 if offset is None else int(offset.total_seconds() // 60))


def identify(options: Options) -> Identity:
    """Return who this device is, and put it on disk at the first start.

    Raises:
        DamagedError: if the file is there but cannot be read.
        UnknownError: if another name was asked for than the one it has.
    """
    kept = read_identity(options.folder)
    if kept is None:
        kept = Identity(device=options.device or f"tablet-{secrets.token_hex(3)}")
        keep_identity(options.folder, kept)
    if options.device and options.device != kept.device:
        raise UnknownError(
            f"the device of {options.folder} is called {kept.device}, not {options.device}: a"
            " logbook keeps its device's name; start a new folder for another device"
        )
    return kept


def post(call: Callable[[], None]) -> None:
    """Hand a call from any thread to the screen's own."""
    Clock.schedule_once(lambda _: call(), 0)


def assemble(folder: Path, identity: Identity, clock: Clockwork, *, practising: bool) -> Tablet:
    """Put a tablet together from its parts; its logbook is opened, or made.

    Raises:
        DamagedError: if the logbook cannot be read.
    """
    folder.mkdir(parents=True, exist_ok=True)
    logbook = Logbook(folder / LOGBOOK, device=identity.device, clock=clock, new_id=new_id)
    photos = PhotoFolder(folder / "photos")
    if practising:
        practice.prepare(logbook, clock())

    def run() -> Delivery:
        here = on_screen_thread(logbook, post)
        server, token = tablet.identity.server, tablet.identity.token
        with HttpPeer(server, token, stop=tablet.stop) as peer:
            return deliver(
                here, photos, peer, progress=lambda moved: post(lambda: tablet.moved(moved))
            )

    day = FieldDay(logbook, author=identity.author, device=lambda: device_now(clock), new_id=new_id)
    tablet = Tablet(
        logbook=logbook,
        day=day,
        courier=Courier(run, post),
        identity=identity,
        keep=(lambda _: None) if practising else (lambda known: keep_identity(folder, known)),
        device=day.here,
        practice=practising,
    )
    tablet.worker = Worker(post)
    tablet.open_again = lambda: Logbook(
        folder / LOGBOOK, device=identity.device, clock=clock, new_id=new_id
    )
    tablet.pictures = Pictures(photos, folder / "thumbs", lambda: device_now(clock).offset_min)
    return tablet


class Screens(ScreenManager):
    """Holds the screens and shows one."""

    def put(self, name: str, screen: Any) -> None:  # noqa: ANN401 - a page of any kind
        """Take in a new screen."""
        screen.name = name
        screen.size = self.size
        self.add_widget(screen)

    def show(self, name: str) -> None:
        """Show a screen that was taken in."""
        self.current = name

    def clear(self) -> None:
        """Forget all screens."""
        self.clear_widgets()


class StrandlineApp(App):
    """The tablet app."""

    title = "Strandline"

    def __init__(
        self,
        options: Options,
        clock: Clockwork = now,
        **settings: Any,  # noqa: ANN401 - any property
    ) -> None:
        """Take what was asked, and the clock."""
        super().__init__(**settings)
        self.options = options
        self._clock = clock
        self.on_offer = options.offer_practice
        self.server = options.server
        self.tablet: Tablet
        self.router: Router
        self.lock: FolderLock | None = None

    def build(self) -> Widget:
        load_look()
        try:
            self.lock = FolderLock(self.options.folder)
        except StrandlineError as error:
            return Notice(str(error))
        identity = identify(self.options)
        theme.dusk, theme.scale = identity.dusk, identity.text_scale
        self.tablet = assemble(self.options.folder, identity, self._clock, practising=False)
        self._carry_walks(self.options.folder)
        Clock.schedule_interval(self._take_in, WALK_STEP_S)
        screens = Screens(transition=NoTransition())
        self.router = Router(screens, self._page)
        self.root_window.softinput_mode = "below_target"  # free words only; numbers have our keypad
        self.root_window.bind(on_keyboard=self._on_key)
        self.router.start(self.tablet.first_screen)
        return screens

    def _page(self, kind: Callable[[], Shown]) -> Shown:
        page: Any = kind()
        page.tablet, page.router, page.practice = self.tablet, self.router, self
        return cast("Shown", page)

    def turn(self, *, on: bool) -> None:
        """Go to the practice site, or back from it."""
        folder, identity = self.options.folder, identify(self.options)
        if on:
            folder /= "practice"
            identity = Identity(
                device=practice.DEVICE,
                author=practice.AUTHOR,
                role=identity.role,
                layout=identity.layout,
                dusk=identity.dusk,
                text_scale=identity.text_scale,
            )
        self._end_walks()
        self.tablet.logbook.close()
        self.tablet = assemble(folder, identity, self._clock, practising=on)
        self._carry_walks(folder)
        self.router.start(self.tablet.first_screen)

    def _carry_walks(self, folder: Path) -> None:
        self.tablet.walks = Walks(
            folder, self._clock, self.options.receiver or self.tablet.identity.receiver
        )

    def _end_walks(self) -> None:
        if self.tablet.walks is not None:
            self.tablet.walks.close()

    def _take_in(self, _: float) -> None:
        if self.tablet.walks is not None:
            self.tablet.walks.take_in()

    @property
    def root_window(self) -> Any:  # noqa: ANN401 - Kivy's window
        """The window; asked for late, because asking makes it."""
        from kivy.core.window import Window  # noqa: PLC0415 - see above

        return Window

    def _on_key(self, _: object, code: int, *__: object) -> bool:
        if code == BACK:
            self.root.current_screen.back()
            return True  # else Kivy would leave the app
        return False

    def open_settings(self, *_: object) -> bool:
        return False  # F1 would open Kivy's own settings

    def on_pause(self) -> bool:
        return True  # each key is on disk already; the system may end the app now

    def tell(self, says: str) -> None:
        """Lay a sentence over the screen that is shown, until it is read."""
        page = self.root.current_screen
        page.lay_over(Notice(says, page.lift))

    def on_stop(self) -> None:
        if self.lock is None:
            return
        self.root_window.unbind(on_keyboard=self._on_key)
        Clock.unschedule(self._take_in)
        self._end_walks()
        self.tablet.logbook.close()
        self.lock.let_go()


class FaultLog(ExceptionHandler):
    """Writes a fault of the program into a file and goes on: what was typed is on disk already."""

    def __init__(self, path: Path, clock: Clockwork) -> None:
        """Take the file, and the clock for the line above each fault."""
        super().__init__()
        self._path = path
        self._clock = clock

    def handle_exception(self, error: BaseException) -> Any:  # noqa: ANN401 - Kivy's own constant
        """Write one fault down; an end that was asked for stays an end."""
        if not isinstance(error, Exception):
            return ExceptionManager.RAISE
        told = "".join(traceback.format_exception(error))
        with self._path.open("a", encoding="utf-8") as file:
            file.write(f"{self._clock().isoformat()}\n{told}\n")
        return ExceptionManager.PASS


def run(options: Options) -> int:
    """Run the app until it is closed; return the exit status."""
    options.folder.mkdir(parents=True, exist_ok=True)
    ExceptionManager.add_handler(FaultLog(options.folder / FAULTS, now))
    Config.set("kivy", "exit_on_escape", "0")
    Config.set("input", "mouse", "mouse,disable_multitouch")
    try:
        StrandlineApp(options).run()
    except StrandlineError as error:
        sys.stderr.write(f"strandline-tablet: {error}\n")
        return 1
    return 0
