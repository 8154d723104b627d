"""A window that draws nothing, on Kivy's mock graphics: rules, layout and touch work, pixels do not.

Needs no EGL and no display. It stands in for Kivy's SDL window and must be there before Kivy is.
"""

import os
import sys
import types
from typing import Any

os.environ["KIVY_GL_BACKEND"] = "mock"
os.environ["KIVY_WINDOW"] = "sdl2"


def _window_class() -> Any:  # noqa: C901 - one class, each method a line
    from kivy.config import Config
    from kivy.core.window import WindowBase
    from kivy.graphics import cgl

    class WindowSDL(WindowBase):
        gl_backends_allowed = ("mock",)

        def create_window(self, *_: object) -> None:
            cgl.cgl_init(allowed=["mock"])
            if not self.initialized:
                sides = (Config.getint("graphics", side) for side in ("width", "height"))
                self.system_size = tuple(sides)
                self._pos = 0, 0
            super().create_window()

        def mainloop(self) -> None:
            """Nothing waits in an event queue."""

        def flip(self) -> None:
            """Nothing is drawn."""

        def set_title(self, title: Any) -> None:
            """There is no frame to write it on."""

        def set_icon(self, filename: Any) -> None:
            """There is no frame to put it on."""

        def get_gl_backend_name(self) -> Any:
            return "mock"

        def _get_window_pos(self) -> Any:
            return 0, 0

        def _set_window_pos(self, x: Any, y: Any) -> None:
            """It is nowhere."""

        def _set_shape(self, *_: object, **__: Any) -> None:
            """It has none."""

        def _event_filter(self, action: Any, *_: object) -> Any:
            """Pass on the life cycle, as the SDL window does on Android."""
            from kivy.app import App

            app = App.get_running_app()
            if action == "app_willenterbackground" and app:
                app.dispatch("on_pause")
            elif action == "app_didenterforeground" and app:
                app.dispatch("on_resume")
            return 0

    return WindowSDL


class _Late(types.ModuleType):
    """Makes the class when it is asked for: its base is still being imported before that."""

    def __getattribute__(self, name: str) -> Any:
        known = types.ModuleType.__getattribute__(self, "__dict__")
        if name == "WindowSDL" and name not in known:
            known[name] = _window_class()
        return types.ModuleType.__getattribute__(self, name)


sys.modules["kivy.core.window.window_sdl2"] = _Late("kivy.core.window.window_sdl2")
