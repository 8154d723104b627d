"""The walked shoreline, drawn while it is walked: no map, no network.

The picture is thinned to one vertex for every THIN_DP, so thousands of fixes draw as some hundreds
of vertices. What changes with each fix (the newest piece, the way back to the start, the dot) is
drawn apart from what stands. Lines have round joints: a mitre throws spikes where a noisy track
doubles back.
"""

from collections.abc import Sequence
from typing import Any, Final

from kivy.core.text import Label as Lettering
from kivy.graphics import (
    Color,
    InstructionGroup,
    Line,
    Mesh,
    Rectangle,
    SmoothEllipse,
    SmoothLine,
    Triangle,
)
from kivy.graphics.tesselator import TYPE_POLYGONS, WINDING_ODD, Tesselator
from kivy.metrics import dp, sp
from kivy.uix.stencilview import StencilView

from mobile.track_shape import Pixel, bounds, dashes, flat, nice, thinned
from mobile.walk_track import Line as Walked
from mobile.walk_track import WalkTrack
from mobile.widgets.theme import theme
from shared_core.track import POOR_ACCURACY_M

THIN_DP: Final = 3.0
CHUNK: Final = 300  # vertices of the newest piece before it is drawn with what stands
LEAST_M: Final = 40.0  # across the picture
SLACK: Final = 1.3  # room round the track when it is fitted, so that it is not fitted often
POOR_APART_DP: Final = 16.0
MARGINS_DP: Final = (10, 58, 40, 10)  # left, bottom, right, top: room for scale bar and arrow
DASHES: Final = {"outside": (10, 6), "inside": (4, 5), "not_walked": (1, 8)}  # dp: ink, gap


class TrackMap(StencilView):
    """Draws a walk; tell it with :meth:`follow` whenever something may have changed."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        self._track: WalkTrack | None = None
        self._outline: Sequence[Pixel] = ()
        self._shape = -1
        self._count = 0
        self._tail_from = 0
        self._centre: Pixel = (0.0, 0.0)  # metres; it lies in the middle of the room, in pixels
        self._middle: Pixel = (0.0, 0.0)
        self._per_m = 1.0  # pixels
        self.redrawn = 0
        self._live = InstructionGroup()
        super().__init__(**settings)
        self.bind(pos=self._fit, size=self._fit)
        theme.bind(changed=self._redraw)

    def follow(self, track: WalkTrack, outline: Sequence[Pixel]) -> None:
        """Draw what is new of a walk."""
        other = track is not self._track
        self._track, self._outline = track, outline
        if other or not self._all_inside(track):
            self._fit()
        elif track.shape != self._shape or self._tail_vertices() > CHUNK:
            self._redraw()
        elif track.count != self._count:
            self._draw_live()

    # where things are --------------------------------------------------------------------------

    def _room(self) -> tuple[float, float, float, float]:
        """Middle and size of the part of the picture in which the track lies."""
        left, bottom, right, top = (dp(margin) for margin in MARGINS_DP)
        middle_x = self.center_x + (left - right) / 2
        middle_y = self.center_y + (bottom - top) / 2
        return middle_x, middle_y, self.width - left - right, self.height - bottom - top

    def _at(self, point: Pixel) -> Pixel:
        x, y = self._centre
        middle_x, middle_y = self._middle
        return middle_x + (point[0] - x) * self._per_m, middle_y + (point[1] - y) * self._per_m

    def _all_inside(self, track: WalkTrack) -> bool:
        if not track.line.points:
            return True
        x, y = self._at(track.line.points[-1])
        middle_x, middle_y, width, height = self._room()
        return abs(x - middle_x) <= width / 2 and abs(y - middle_y) <= height / 2

    def _fit(self, *_: object) -> None:
        if self._track is None or min(self._room()[2:]) < dp(8):
            return
        lines = (self._track.shore, *self._track.islands)
        box = bounds([*self._outline, *(p for line in lines for p in line.points)])
        west, south, east, north = box or (0.0, 0.0, 0.0, 0.0)
        self._centre = ((west + east) / 2, (south + north) / 2)
        middle_x, middle_y, width, height = self._room()
        self._middle = (middle_x, middle_y)
        slack = 1.03 if self._track.finished else SLACK
        across = max((east - west) * slack, LEAST_M)
        along = max((north - south) * slack, LEAST_M)
        self._per_m = min(width / across, height / along)
        self._redraw()

    def _pixels(self, points: Sequence[Pixel]) -> list[Pixel]:
        return thinned([self._at(point) for point in points], dp(THIN_DP))

    # what stands -------------------------------------------------------------------------------

    def _redraw(self, *_: object) -> None:
        track = self._track
        self.canvas.clear()
        if track is None or min(self._room()[2:]) < dp(8):
            return
        self.redrawn += 1
        self._shape = track.shape
        self._live = InstructionGroup()
        with self.canvas:
            Color(*theme.card)
            Rectangle(pos=self.pos, size=self.size)
            self._grid()
            if len(self._outline) > 2:
                Color(*theme.rule)
                Line(points=flat(self._pixels(self._outline)), width=1, close=True)
            if track.finished:
                self._fill(track.shore, theme.shallow)
            for island in track.islands[: -1 if track.on_island else None]:
                self._island(island, finished=track.finished)
            self._shore(track)
            self._start(track.shore)
        self.canvas.add(self._live)
        self._draw_live()
        with self.canvas:
            self._scale_bar()
            self._north()

    def _grid(self) -> None:
        step = nice(dp(140) / self._per_m) * self._per_m
        Color(*theme.hair)
        middle_x, middle_y = self._at((0.0, 0.0))
        x = middle_x - (middle_x - self.x) // step * step
        while x < self.right:
            Rectangle(pos=(round(x), self.y), size=(1, self.height))
            x += step
        y = middle_y - (middle_y - self.y) // step * step
        while y < self.top:
            Rectangle(pos=(self.x, round(y)), size=(self.width, 1))
            y += step

    def _fill(self, line: Walked, colour: Any) -> None:  # noqa: ANN401 - a colour of the theme
        ring = self._pixels(line.points)
        if len(ring) < 3:
            return
        cutter = Tesselator()
        cutter.add_contour(flat(ring))
        if cutter.tesselate(WINDING_ODD, TYPE_POLYGONS):
            Color(*colour)
            for vertices, indices in cutter.meshes:
                Mesh(vertices=vertices, indices=indices, mode="triangle_fan")

    def _island(self, line: Walked, *, finished: bool) -> None:
        if finished:
            self._fill(line, theme.card)
        Color(*theme.reed)
        ring = self._pixels(line.points)
        if len(ring) > 1:
            Line(points=flat(ring), width=dp(1.6), joint="round", cap="round", close=True)

    def _shore(self, track: WalkTrack) -> None:
        points, place = track.shore.points, 0
        for stretch in track.stretches:
            last = len(points) - 1 if stretch.last is None else stretch.last
            self._solid(points[place : stretch.first + 1], theme.river)
            self._dashed(points[stretch.first : last + 1], stretch.how)
            place = last
        self._solid(points[place:], theme.river)
        self._poor(track.shore)
        if track.on_island:
            self._solid(track.line.points, theme.reed)
        self._tail_from = max(0, len(track.line.points) - 1)

    def _solid(self, points: Sequence[Pixel], colour: Any) -> None:  # noqa: ANN401 - see _fill
        if len(points) > 1:
            Color(*colour)
            Line(points=flat(self._pixels(points)), width=dp(1.8), joint="round", cap="round")

    def _dashed(self, points: Sequence[Pixel], how: str) -> None:
        mark, gap = DASHES[how]
        Color(*theme.clay)
        for dash in dashes(self._pixels(points), dp(mark), dp(gap)):
            Line(points=flat(dash), width=dp(2.4), joint="round", cap="round")

    def _poor(self, line: Walked) -> None:
        """Ring what was received badly."""
        pairs = zip(line.fixes, line.points, strict=True)
        poor = [self._at(p) for fix, p in pairs if (fix.accuracy_m or 0.0) > POOR_ACCURACY_M]
        Color(*theme.clay)
        for x, y in thinned(poor, dp(POOR_APART_DP)):
            Line(circle=(x, y, dp(6)), width=dp(1.2))

    def _start(self, line: Walked) -> None:
        if line.points:
            x, y = self._at(line.points[0])
            Color(*theme.card)
            SmoothEllipse(pos=(x - dp(11), y - dp(11)), size=(dp(22), dp(22)))
            Color(*theme.clay)
            SmoothLine(circle=(x, y, dp(9)), width=dp(2.5))

    # what moves --------------------------------------------------------------------------------

    def _tail_vertices(self) -> int:
        return 0 if self._track is None else len(self._track.line.points) - self._tail_from

    def _draw_live(self) -> None:
        track = self._track
        self._live.clear()
        if track is None:
            return
        self._count = track.count
        if not track.line.points:
            return
        tail = self._pixels(track.line.points[self._tail_from :])
        colour = theme.reed if track.on_island else theme.river
        if track.open_stretch:
            mark, gap = DASHES[track.open_stretch.how]
            self._add(theme.clay, *self._pieces(dashes(tail, dp(mark), dp(gap)), 2.4))
        elif len(tail) > 1:
            self._add(colour, *self._pieces([tail], 1.8))
        if not track.finished:
            way = [self._at(track.line.points[-1]), self._at(track.line.points[0])]
            self._add(theme.clay, *self._pieces(dashes(way, dp(7), dp(7)), 1.1))
            self._dot(track)

    @staticmethod
    def _pieces(lines: Sequence[Sequence[Pixel]], width_dp: float) -> list[Any]:
        return [
            Line(points=flat(line), width=dp(width_dp), joint="round", cap="round")
            for line in lines
        ]

    def _add(self, colour: Any, *shapes: Any) -> None:  # noqa: ANN401 - Kivy's own
        self._live.add(Color(*colour))
        for shape in shapes:
            self._live.add(shape)

    def _dot(self, track: WalkTrack) -> None:
        """Where the walker is, in the circle of the fix's accuracy."""
        fix, (x, y) = track.line.fixes[-1], self._at(track.line.points[-1])
        far = max(dp(16), (fix.accuracy_m or 0.0) * self._per_m)
        for colour, r in (
            ((*theme.mid[:3], 0.35), far),
            (theme.card, dp(13)),
            (theme.river, dp(9.5)),
        ):
            self._add(colour, SmoothEllipse(pos=(x - r, y - r), size=(2 * r, 2 * r)))

    # what explains -----------------------------------------------------------------------------

    @staticmethod
    def _words(text: str) -> Any:  # noqa: ANN401 - Kivy's texture
        lettering = Lettering(text=text, font_size=sp(17) * theme.scale, bold=True)
        lettering.refresh()
        return lettering.texture

    def _scale_bar(self) -> None:
        metres = nice(min(dp(150), self.width * 0.4) / self._per_m)
        width = metres * self._per_m
        words = self._words(f"{metres:g} m" if metres < 1000 else f"{metres / 1000:g} km")
        x, y = self.x + dp(18), self.y + dp(18)
        Color(*theme.card[:3], 0.85)
        room = max(width, words.width)
        Rectangle(pos=(x - dp(8), y - dp(8)), size=(room + dp(16), words.height + dp(26)))
        Color(*theme.ink)
        for left in (x, x + width - dp(3)):
            Rectangle(pos=(left, y), size=(dp(3), dp(11)))
        Rectangle(pos=(x, y), size=(width, dp(3)))
        Rectangle(texture=words, size=words.size, pos=(round(x), round(y + dp(13))))

    def _north(self) -> None:
        words = self._words("N")
        x, top = self.right - dp(30), self.top - dp(14)
        Color(*theme.card[:3], 0.85)
        high = dp(34) + words.height
        Rectangle(pos=(x - dp(18), top - high), size=(dp(36), high + dp(6)))
        Color(*theme.ink)
        Triangle(points=[x, top, x - dp(9), top - dp(28), x, top - dp(21)])
        Line(points=[x, top, x + dp(9), top - dp(28), x, top - dp(21)], width=dp(1.2), close=True)
        spot = (round(x - words.width / 2), round(top - dp(30) - words.height))
        Rectangle(texture=words, size=words.size, pos=spot)
