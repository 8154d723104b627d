"""A drawn staff gauge: the waterline stays where it is and the staff rolls behind it."""

from typing import Any

from kivy.animation import Animation
from kivy.clock import Clock
from kivy.core.text import Label as Lettering
from kivy.graphics import Color, Mesh, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.metrics import dp
from kivy.properties import NumericProperty
from kivy.uix.stencilview import StencilView

from mobile.widgets.theme import theme

NO_NOTCH = -99.0


class Staff(StencilView):
    """The plate of one gauge, with a notch where the last visit found the water."""

    level = NumericProperty(0.0)  # m, animated
    low = NumericProperty(0.0)  # m, where the plate starts
    high = NumericProperty(1.0)  # m, where it ends
    cm = NumericProperty(8.0)  # drawn height of one centimetre
    at = NumericProperty(0.40)  # waterline as a share of the height
    last = NumericProperty(NO_NOTCH)

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        super().__init__(**settings)
        self._shift = Translate(0, 0)
        self._redraw = Clock.create_trigger(self._draw, -1)
        for name in ("pos", "size", "cm", "last", "low", "high"):
            self.fbind(name, self._redraw)
        self.fbind("level", self._roll)
        theme.bind(changed=self._restyled)  # weakly: the theme outlives every screen

    def _restyled(self, *_: object) -> None:
        self._redraw()

    @property
    def waterline(self) -> float:
        """Height of the waterline in the window."""
        return float(self.y + self.height * self.at)

    def go(self, level: float, *, at_once: bool = False) -> None:
        """Roll the staff to a stage [m]."""
        Animation.cancel_all(self, "level")
        if at_once:
            self.level = level
        else:
            Animation(level=level, d=0.28, t="out_cubic").start(self)

    def _roll(self, *_: object) -> None:
        self._shift.xy = (self.x, self.waterline - self.level * 100 * self.cm)

    def _draw(self, *_: object) -> None:
        self.canvas.clear()
        if self.width < 2:
            return
        self._roll()
        with self.canvas:
            Color(*theme.hair)
            Rectangle(pos=self.pos, size=self.size)
            PushMatrix()
            self.canvas.add(self._shift)
            self._draw_plate()
            self._draw_notch()
            PopMatrix()
            red, green, blue, _ = theme.mid
            Color(red, green, blue, 0.46)
            Rectangle(pos=self.pos, size=(self.width, self.waterline - self.y))
            Color(*theme.river)
            Rectangle(pos=(self.x, self.waterline - dp(2)), size=(self.width, dp(4)))

    def _draw_plate(self) -> None:
        foot, head = self._height_of(self.low), self._height_of(self.high)
        left, width = self.width * 0.06, self.width * 0.88
        Color(*theme.plate)
        Rectangle(pos=(left, foot), size=(width, head - foot))
        Color(*theme.plate_ink)
        Rectangle(pos=(left, foot), size=(width * 0.05, head - foot))
        corners: list[float] = []
        for mark in range(round(self.low * 100), round(self.high * 100), 2):
            reach = 0.50 if mark % 10 == 0 else 0.26
            _block(corners, (left, mark * self.cm, width * reach, self.cm))
        Mesh(vertices=corners, indices=_triangles(len(corners) // 16), mode="triangles")
        for tenth in range(round(self.low * 10), round(self.high * 10) + 1):
            self._draw_figure(tenth, left + width * 0.56, width)

    def _draw_figure(self, tenth: int, x: float, width: float) -> None:
        figure = Lettering(
            text=f"{tenth / 10:.1f}".replace("-", "\u2212"),
            bold=True,
            font_size=min(self.cm * 5.2, width * 0.24),
        )
        figure.refresh()
        y = tenth * 10 * self.cm - figure.texture.height / 2 + self.cm / 2
        Rectangle(texture=figure.texture, pos=(round(x), round(y)), size=figure.texture.size)

    def _draw_notch(self) -> None:
        if self.last == NO_NOTCH:
            return
        y, edge = self._height_of(self.last), self.width * 0.94
        Color(*theme.notch)
        Mesh(
            vertices=[edge, y - dp(9), 0, 0, edge, y + dp(9), 0, 0, edge - dp(17), y, 0, 0],
            indices=[0, 1, 2],
            mode="triangles",
        )

    def _height_of(self, stage_m: float) -> float:
        return stage_m * 100 * float(self.cm)


def _block(corners: list[float], box: tuple[float, float, float, float]) -> None:
    x, y, width, height = box
    for right, top in ((0, 0), (1, 0), (1, 1), (0, 1)):
        corners += (x + right * width, y + top * height, 0, 0)


def _triangles(blocks: int) -> list[int]:
    corners = (0, 1, 2, 0, 2, 3)
    return [4 * block + corner for block in range(blocks) for corner in corners]
