"""Drives the real app inside the test process: touch, type, turn, look, stop.

Only time and the display are made up; the app, its rules, the window, the dispatch of touches and
the keyboard are the real ones. Import this before anything that imports Kivy: conftest.py does.

``PILOT_PICTURES=1`` draws real frames (needs EGL); without it a window that draws nothing is used.
"""

import logging
import os
import tempfile
import time
from collections.abc import Iterator
from typing import Any

_AROUND = {
    "SDL_VIDEODRIVER": "offscreen",
    "SDL_AUDIODRIVER": "dummy",
    "KIVY_NO_ARGS": "1",
    "KIVY_NO_FILELOG": "1",
    "KIVY_LOG_MODE": "PYTHON",  # plain logging; Kivy's own would replace sys.stderr
    "KIVY_WINDOW": "sdl2",  # never fall through to the x11 window, which ends the process in C
    "KIVY_NO_CONFIG": "1",
    "KIVY_CLIPBOARD": "dummy",
    "KIVY_METRICS_DENSITY": "1",
    "KCFG_GRAPHICS_MAXFPS": "0",
    "KCFG_GRAPHICS_WIDTH": "1400",  # the offscreen window never grows after it is made
    "KCFG_GRAPHICS_HEIGHT": "1400",
    "KCFG_KIVY_LOG_LEVEL": "warning",
}
PICTURES = os.environ.get("PILOT_PICTURES") == "1"
for _name, _value in _AROUND.items():
    os.environ.setdefault(_name, _value)
os.environ.setdefault("KCFG_GRAPHICS_MULTISAMPLES", "4" if PICTURES else "0")
os.environ.setdefault("KIVY_HOME", tempfile.mkdtemp(prefix="kivy-home-"))
if not PICTURES:
    from tests.mobile import null_window  # noqa: F401 - it puts itself in Kivy's way

FRAME_S = 1 / 60
WIDE, TALL = (1280, 800), (412, 915)

# Without xclip and xsel, importing a text box logs one critical line about the X selection.
logging.getLogger("kivy").addFilter(lambda line: not str(line.msg).startswith("Cutbuffer"))


class Pilot:
    """Start, tap, hold, drag, type, find, stop."""

    def __init__(self, make_app: Any, size: tuple[int, int] = WIDE) -> None:
        self.make_app, self.size = make_app, size
        self.app: Any = None

    def start(self) -> Any:
        from kivy.config import Config

        for name, _ in list(Config.items("input")):  # we are the finger
            Config.remove_option("input", name)
        from kivy.base import EventLoop, runTouchApp
        from kivy.clock import Clock
        from kivy.core.window import Window

        self.window, self.loop, self.clock = Window, EventLoop, Clock
        if EventLoop.window is None or not Window.initialized:
            EventLoop.ensure_window()
        Window.register()
        self._clear()
        Window.size = self.size
        self._now, self._real_time = Clock.time(), Clock.time
        Clock.time = lambda: self._now
        Clock._last_tick = self._now
        self.app = self.make_app()
        self.app._run_prepare()
        runTouchApp(embedded=True)
        self.frames(4)
        return self

    def _clear(self) -> None:
        for child in self.window.children[:]:
            self.window.remove_widget(child)
        for canvas in (self.window.canvas.before, self.window.canvas, self.window.canvas.after):
            canvas.clear()
        self.loop.touches.clear()
        self.window.release_all_keyboards()

    def stop(self) -> None:
        if self.app is None:
            return
        from kivy.animation import Animation

        for moving in list(Animation._instances):
            for entry in list(moving._widgets.values()):
                moving.cancel(entry["widget"])
        self.app.stop()
        self._forget()

    def kill(self) -> None:
        """End the app the way a system does that needs the memory: nobody is asked."""
        self.window.unbind(on_keyboard=self.app._on_key)
        self.app.lock.let_go()  # a system lets go of it with the process
        self.loop.close()
        self._forget()

    def _forget(self) -> None:
        self._clear()
        self.loop.input_providers.clear()
        self.loop.postproc_modules.clear()
        self.clock.time = self._real_time
        self.clock._last_tick = self._real_time()
        self.app = None

    # time ------------------------------------------------------------------------------------

    def frames(self, count: Any = 2) -> None:
        for _ in range(count):
            self._now += FRAME_S
            self.loop.idle()
            self.window.mainloop()

    def wait(self, seconds: Any, fps: Any = 30) -> None:
        """Let made-up time pass."""
        count = max(1, round(seconds * fps))
        for _ in range(count):
            self._now += seconds / count - FRAME_S
            self.frames(1)

    def until(self, holds: Any, timeout_s: Any = 10.0) -> None:
        """Draw frames until something holds that another thread brings about."""
        end = time.perf_counter() + timeout_s
        while not holds():
            assert time.perf_counter() < end, "it never happened"
            self.frames(1)
            time.sleep(0.001)

    # finding ---------------------------------------------------------------------------------

    def walk(self) -> Iterator[Any]:
        for top in list(self.window.children):
            yield from top.walk()

    def all(self, text: Any = None, name: Any = None, kind: Any = None) -> Any:
        return [
            widget
            for widget in self.walk()
            if (text is None or getattr(widget, "text", None) == text)
            and (name is None or getattr(widget, "test_id", None) == name)
            and (kind is None or any(k.__name__ == kind for k in type(widget).__mro__))
            and widget.width > 0
            and widget.height > 0
            and widget.opacity > 0
        ]

    def find(self, text: Any = None, name: Any = None, kind: Any = None) -> Any:
        found = self.all(text, name, kind)
        assert len(found) == 1, f"{len(found)} widgets match {text!r} {name!r} {kind!r}"
        return found[0]

    def texts(self) -> Any:
        """Everything that can be read."""
        return [w.text for w in self.walk() if getattr(w, "text", "") and w.opacity > 0]

    # acting ----------------------------------------------------------------------------------

    def tap(self, widget: Any, hold_s: Any = 0.05) -> None:
        from kivy.tests.common import UnitTestTouch

        scroll = self._scroll_over(widget)
        if scroll is not None:
            scroll.scroll_to(widget, animate=False)
            self.frames(2)
        touch = UnitTestTouch(*widget.to_window(*widget.center))
        touch.touch_down()
        self.wait(hold_s)
        touch.touch_up()
        self.wait(0.3 if scroll is not None else 0.05)

    @staticmethod
    def _scroll_over(widget: Any) -> Any:
        while widget is not None and widget.parent is not widget:
            if any(kind.__name__ == "ScrollView" for kind in type(widget).__mro__):
                return widget
            widget = widget.parent
        return None

    def keys(self, codes: Any) -> None:
        """Tap keys of the keypad one after another."""
        for code in codes:
            self.tap(self.find(name="rubout" if code == "<" else f"key {code}"))

    def type(self, text: Any) -> None:
        for letter in text:
            self.window.dispatch("on_textinput", letter)
            self.frames(1)

    def press(self, code: Any) -> None:
        """Press a key of the system: 27 is back."""
        if not self.window.dispatch("on_key_down", code, 0, None, []):
            self.window.dispatch("on_keyboard", code, 0, None, [])
        self.window.dispatch("on_key_up", code, 0)
        self.frames(2)

    def turn(self, size: tuple[int, int]) -> None:
        self.window.size = size
        self.frames(4)

    def shot(self, path: Any) -> None:
        """Write a picture under exactly this name (Kivy would number it)."""
        self.window.canvas.ask_update()
        self.frames(1)
        made = self.window.screenshot(name=str(path))
        os.replace(made, path)  # noqa: PTH105 - both are texts
