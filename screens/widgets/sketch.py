"""The drawing of a step, in the colours of the theme."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import hypot
from typing import Any

from kivy.metrics import dp
from kivy.properties import StringProperty

from screens import theme
from screens.widgets import sketch_shapes as shapes
from screens.widgets.drawn import Drawn, brush, card, dot, stroke

# As high as two lines of buttons at most: the button of the step stays on the same leaf.
_HIGH_DP = 118.0
_MOST_WIDE_DP = 420.0


class StepSketch(Drawn):
    """Draws the sketch of `step`; takes no room where that has none."""

    step = StringProperty("")
    redraw_on = ("step",)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, height=0, **kwargs)
        self.fbind("step", self._measure)
        self._measure()

    def _measure(self, *_: Any) -> None:
        self.height = dp(_HIGH_DP) if self.step in shapes.SKETCHES else 0

    def draw(self) -> None:
        """Draw the sheet, the scope on it, and over both what is to be done."""
        sketch = shapes.SKETCHES.get(self.step)
        if sketch is None:
            return
        brush("panel")
        card(self.x, self.y, self.width, self.height, dp(theme.RADIUS_DP))
        pad = dp(8)
        wide = min(self.width - 2 * pad, dp(_MOST_WIDE_DP))
        unit = min(wide / shapes.WIDE, (self.height - 2 * pad) / shapes.HIGH)
        left = self.x + (self.width - unit * shapes.WIDE) / 2.0
        low = self.y + (self.height - unit * shapes.HIGH) / 2.0
        pen = _Pen(left, low, unit)
        if sketch.under:
            pen.basin()
        if sketch.near:
            pen.tip_from_near(sketch.near)
        else:
            pen.scope()
        for points in sketch.wide:
            brush("fill")
            pen.line(points, 4.4)
        for points in sketch.work:
            brush("fill")
            pen.line(points, 1.5)
            if sketch.arrow:
                pen.arrow(points)
        if sketch.bubbles:
            pen.bubbles()
        brush("caution_sign")
        for at in sketch.look:
            pen.ring(at, 7.5, 1.1)


class _Pen:
    """Draws in the units of the sheet."""

    def __init__(self, left: float, low: float, unit: float) -> None:
        self._left, self._low, self._unit = left, low, unit

    def _placed(self, points: Sequence[float]) -> list[float]:
        placed = []
        for x, y in zip(points[::2], points[1::2], strict=True):
            placed += [self._left + x * self._unit, self._low + y * self._unit]
        return placed

    def line(self, points: Sequence[float], thick: float, close: bool = False) -> None:
        stroke(self._placed(points), max(1.0, thick * self._unit), close)

    def ring(self, at: Sequence[float], across: float, thick: float) -> None:
        x, y = self._placed(at)
        dot(x, y, across * self._unit, max(1.5, thick * self._unit))

    def spot(self, at: Sequence[float], across: float) -> None:
        x, y = self._placed(at)
        dot(x, y, across * self._unit)

    def scope(self) -> None:
        """The scope as a line drawing: what is worked on is drawn over it."""
        brush("ink")
        self.line(shapes.CONNECTOR, 1.0, close=True)
        self.line(shapes.CONTROL, 1.0, close=True)
        for part, thick in ((shapes.CORD, 2.4), (shapes.INSERTION, 2.4), (shapes.BENDING, 2.4), (shapes.TIP, 3.4)):
            self.line(part, thick)
        brush("panel")
        for part in (shapes.CORD, shapes.INSERTION):
            self.line(part, 1.2)
        brush("ink")
        self.line(shapes.BOOT, 4.2)
        self.line(shapes.PORT, 2.0)
        self.spot(shapes.PORT_MOUTH, 3.4)
        for cylinder in (shapes.SUCTION_CYLINDER, shapes.AIR_WATER_CYLINDER, shapes.AUXILIARY_PORT):
            self.spot(cylinder, 3.6)

    def tip_from_near(self, lever: str) -> None:
        """The tip with its elevator."""
        brush("ink")
        self.line(shapes.NEAR_TIP, 1.0)
        self.line(shapes.RAISED if lever == "raised" else shapes.LOWERED, 3.4)
        self.spot(shapes.RAISED[:2], 5.0)

    def basin(self) -> None:
        """The basin with its surface above the scope."""
        brush("todo")
        self.line(shapes.BASIN, 1.0)
        brush("fill")
        waves = [coordinate for x in range(3, 98, 5) for coordinate in (x, shapes.SURFACE + (0.8 if x % 2 else -0.8))]
        self.line(waves, 0.9)

    def bubbles(self) -> None:
        """A stream of bubbles that rises from the tip."""
        brush("fill")
        for x, y, across in ((96, 16, 2.4), (94, 22, 3.0), (96.5, 28, 3.4), (93.5, 34, 4.0)):
            self.ring((x, y), across, 0.7)

    def arrow(self, points: Sequence[float]) -> None:
        """The head of an arrow at the end of a line."""
        corners = list(zip(points[::2], points[1::2], strict=True))
        (x1, y1), (x2, y2) = list(pairwise(corners))[-1]
        long = hypot(x2 - x1, y2 - y1) or 1.0
        back_x, back_y = (x1 - x2) / long * 4.0, (y1 - y2) / long * 4.0
        self.line((x2 + back_x - back_y * 0.6, y2 + back_y + back_x * 0.6, x2, y2), 1.5)
        self.line((x2 + back_x + back_y * 0.6, y2 + back_y - back_x * 0.6, x2, y2), 1.5)
