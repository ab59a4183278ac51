"""Drawing helpers that every widget shares: smooth shapes in the colours of the theme."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from kivy.clock import Clock
from kivy.graphics import BorderImage, Color, Mesh, Rectangle, SmoothLine
from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets import coil_shape, patches

# The smooth instructions of Kivy soften their own edges, so shapes look the same with and without
# multisampling, which neither cheap handhelds nor offscreen rendering can be trusted to have.


def brush(role: str, alpha: float = 1.0) -> Color:
    """Set the colour of the shapes that follow to that of a role."""
    return Color(*theme.rgba(role, alpha))


def untinted() -> Color:
    """Let the textures that follow keep their own colours, in every theme."""
    return Color(1, 1, 1, 1)


def card(x: float, y: float, width: float, height: float, radius: float) -> BorderImage:
    """Draw a filled rounded rectangle on whole pixels; the radius never exceeds half of the shorter side."""
    left, low, wide, high, corner = _on_pixels(x, y, width, height, radius)
    return BorderImage(texture=patches.rounded(corner, 0), border=[corner] * 4, pos=(left, low), size=(wide, high))


def ground(x: float, y: float, width: float, height: float, over: bool) -> None:
    """Draw the panel that a scope or a bath stands on; one over its limit has a crimson edge."""
    radius = dp(theme.RADIUS_DP)
    brush("panel")
    card(x, y, width, height, radius)
    if over:
        brush("over")
        card(x, y + radius, dp(7), height - 2 * radius, dp(3.5))


def outline(x: float, y: float, width: float, height: float, radius: float, line: float) -> Mesh:
    """Draw a rounded rectangle as an outline `line` pixels thick, wholly inside the given rectangle.

    Of the nine pieces of the picture only the eight at the edge are drawn: the empty middle of a large button would
    cost a software renderer as much as a filled one.
    """
    left, low, wide, high, corner = _on_pixels(x, y, width, height, radius)
    share = corner / (2 * corner + 2)
    across = list(zip((left, left + corner, left + wide - corner, left + wide), (0, share, 1 - share, 1), strict=True))
    upwards = list(zip((low, low + corner, low + high - corner, low + high), (0, share, 1 - share, 1), strict=True))
    vertices = [figure for y_at, v in upwards for x_at, u in across for figure in (x_at, y_at, u, v)]
    return Mesh(
        vertices=vertices,
        indices=_FRAME,
        mode="triangles",
        texture=patches.rounded(corner, min(max(1, round(line)), corner)),
    )


# The pieces of a grid of four by four points without the one in the middle, as triangles.
_FRAME = [
    corner
    for row in range(3)
    for column in range(3)
    if (row, column) != (1, 1)
    for start in (4 * row + column,)
    for corner in (start, start + 1, start + 5, start, start + 5, start + 4)
]


def _on_pixels(x: float, y: float, width: float, height: float, radius: float) -> tuple[int, int, int, int, int]:
    left, low = round(x), round(y)
    wide, high = max(2, round(x + width) - left), max(2, round(y + height) - low)
    return left, low, wide, high, max(1, min(round(radius), wide // 2 - 1, high // 2 - 1))


def dot(x: float, y: float, across: float, line: float = 0.0) -> Rectangle:
    """Draw a small disc around a point, or its outline `line` pixels thick."""
    radius = max(1, math.ceil(across / 2.0))
    return Rectangle(
        texture=patches.disc(radius, round(line * 2.0 * radius / across, 1)),
        pos=(x - across / 2.0, y - across / 2.0),
        size=(across, across),
    )


def track(points: Sequence[float], line: float) -> Mesh:
    """Draw a smooth curve `line` pixels thick; dearer lines with sharp bends are for `stroke`."""
    thick = max(1.0, line)
    vertices = coil_shape.ribbon(points, thick / 2.0 + 1.0)
    return Mesh(
        vertices=vertices,
        indices=range(len(vertices) // 4),
        mode="triangle_strip",
        texture=patches.across(round(thick, 2)),
    )


def stroke(points: Sequence[float], line: float, close: bool = False) -> SmoothLine:
    """Draw a line `line` pixels thick through the points x1, y1, x2, y2 and so on."""
    made = SmoothLine(points=list(points), width=line / 2.0, close=close)
    # Kivy's own picture of the edge stays empty after a lost graphics context, and the line with it.
    made.texture = patches.edge()
    return made


class Drawn(Widget):
    """A widget that draws itself in `draw`, at most once a frame and only after a change."""

    redraw_on: tuple[str, ...] = ()

    def __init__(self, **kwargs: Any) -> None:
        # Made before the properties are set: setting them may already ask for a redraw.
        self.redraw = Clock.create_trigger(self._redraw_now, -1)
        super().__init__(**kwargs)
        for name in ("pos", "size", *self.redraw_on):
            self.fbind(name, self.redraw)
        self.redraw()

    # Computed here, not taken from Kivy's `right`, `top` and `center`: while a size is being set those still
    # give the value from before, and a layout made from them stays wrong.

    @property
    def far_x(self) -> float:
        """Give the right edge."""
        return float(self.x + self.width)

    @property
    def far_y(self) -> float:
        """Give the upper edge."""
        return float(self.y + self.height)

    @property
    def mid_x(self) -> float:
        """Give the middle from left to right."""
        return float(self.x + self.width / 2.0)

    @property
    def mid_y(self) -> float:
        """Give the middle from low to high."""
        return float(self.y + self.height / 2.0)

    def draw(self) -> None:
        """Draw the whole widget into the open canvas; the canvas is empty when this is called."""
        raise NotImplementedError(f"{type(self).__name__} does not say how it is drawn")

    def _redraw_now(self, *_: Any) -> None:
        self.canvas.before.clear()
        if self.width < 1 or self.height < 1:
            return
        with self.canvas.before:
            self.draw()
