"""The coil: a scope lying coiled in its basin, as a track that fills from the inside out while time passes.

Shape, colour and a word each tell the state on their own: filling is a part of a pale track; ready is whole
and turns its end up with an arrow head; over is broken and says so in a word. The liquid shows in the track:
one track with bubbles beside it for detergent, a double track for disinfectant, one track with a breeze
beside it for air.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from kivy.graphics import Mesh, SmoothTriangle
from kivy.metrics import dp
from kivy.properties import NumericProperty, OptionProperty

from screens.widgets import coil_shape
from screens.widgets.drawn import Drawn, brush, dot, stroke, track
from screens.widgets.text import Fitted, line_height_px
from screens.words import say

_TRACK_SHARE = 0.22
"""Thickness of a single track as a share of the radius."""
_RAIL_SHARE = 0.13
_RAIL_SHIFT = 0.1
"""Thickness of one rail of the double track, and how far each lies from its middle."""


class _Fill(NamedTuple):
    """The filling of one track: what draws it, and its whole course, worked out once."""

    strip: Mesh
    points: tuple[float, ...]
    corners: list[float]
    reach: list[float]
    half: float


class Coil(Drawn):
    """Shows how far one soak, or drying, has come.

    `state` is filling, ready or over; `liquid` is detergent, disinfectant, water or air; `share` (0 to 1) is
    the part of the required time that has passed, set once a second by the page. Nothing moves between.
    """

    state = OptionProperty("filling", options=["filling", "ready", "over"])
    liquid = OptionProperty("detergent", options=["detergent", "disinfectant", "water", "air"])
    share = NumericProperty(0.0)
    redraw_on = ("state", "liquid")

    def __init__(self, **kwargs: Any) -> None:
        self._fills: list[_Fill] = []
        self._drawn_share = -1.0
        super().__init__(**kwargs)
        self._word = Fitted(
            say("coil.over"), step="mark", role="over_text", bold=True, halign="center", size_hint_x=None
        )
        self.fbind("share", self._move)
        self.fbind("state", self._place_word)
        self.fbind("pos", self._place_word)
        self.fbind("size", self._place_word)
        self._place_word()

    @property
    def rails(self) -> int:
        """Give the number of parallel tracks: two for a disinfectant, else one."""
        return 2 if self.liquid == "disinfectant" else 1

    def _place_word(self, *_: Any) -> None:
        shown = self._word.parent is not None
        if self.state == "over" and not shown:
            self.add_widget(self._word)
        elif self.state != "over" and shown:
            self.remove_widget(self._word)
        self._word.size = (self.width, line_height_px("mark"))
        self._word.pos = (self.x, self.y)

    def _frame(self) -> tuple[float, float, float]:
        """Give centre x, centre y and radius of the middle of the track."""
        below = line_height_px("mark") if self.state == "over" else 0.0
        side = min(self.width, self.height - below)
        radius = side / 2.0 * 0.8
        return self.mid_x, self.y + below + (self.height - below) / 2.0, radius

    def _tracks(self) -> list[tuple[tuple[float, ...], float]]:
        """Give each track as its points and its thickness."""
        x, y, radius = self._frame()
        if self.rails == 1:
            return [(coil_shape.spiral(x, y, radius), radius * _TRACK_SHARE)]
        shift = radius * _RAIL_SHIFT
        return [(coil_shape.spiral(x, y, radius, by), radius * _RAIL_SHARE) for by in (-shift, shift)]

    def draw(self) -> None:
        """Draw track, filling and the sign of the liquid."""
        self._fills = []
        self._drawn_share = -1.0
        if self.state == "filling":
            self._draw_filling()
        elif self.state == "ready":
            self._draw_ready()
        else:
            self._draw_over()
        self._draw_liquid()

    def _draw_filling(self) -> None:
        for points, thick in self._tracks():
            brush("track")
            track(points, thick)
            dot(points[-2], points[-1], thick)  # the inner end lies under that of the filling
        brush("fill")
        for points, thick in self._tracks():
            dot(points[0], points[1], thick)
            # Only this instruction changes once a second; the rest of the drawing stays.
            half = max(1.0, thick) / 2.0 + 1.0
            corners, reach = coil_shape.ribbon(points, half), coil_shape.reaches(points)
            self._fills.append(_Fill(track([], thick), points, corners, reach, half))
        self._move()

    def _move(self, *_: Any) -> None:
        if not self._fills:
            return
        share = min(1.0, max(0.0, self.share))
        # A move of less than a pixel can hardly be seen; a long soak then redraws only every few seconds.
        moved_px = abs(share - self._drawn_share) * self._fills[0].reach[-1]
        if self._drawn_share >= 0.0 and moved_px < 1.0 and 0.0 < share < 1.0:
            return
        self._drawn_share = share
        for fill in self._fills:
            corners = coil_shape.grown(fill.points, fill.corners, fill.reach, share, fill.half)
            fill.strip.vertices = corners
            fill.strip.indices = range(len(corners) // 4)

    def _draw_ready(self) -> None:
        _, y, radius = self._frame()
        head = radius * 0.5
        top = y + radius * 1.2
        brush("ready")
        ends = []
        for points, thick in self._tracks():
            raised = coil_shape.upturned(points, top - head * 0.7)
            track(raised, thick)
            dot(points[0], points[1], thick)
            ends.append(points[-2])
        tip_x = sum(ends) / len(ends)
        SmoothTriangle(points=coil_shape.arrow_head(tip_x, top, head, head * 0.9))

    def _draw_over(self) -> None:
        brush("over_text")
        x, y, radius = self._frame()
        total = coil_shape.length(coil_shape.spiral(x, y, radius))
        dashes = coil_shape.broken(total, radius * 0.55, radius * 0.26)
        for points, thick in self._tracks():
            for start, end in dashes:
                track(coil_shape.part(points, start, end), thick)

    def _draw_liquid(self) -> None:
        if self.liquid not in ("detergent", "air"):
            return
        x, y, radius = self._frame()
        unit = radius * 0.135
        left, top = x - radius * 1.16, y + radius * 1.16
        brush({"filling": "fill", "ready": "ready", "over": "over_text"}[self.state])
        line = max(dp(1.2), radius * 0.05)
        if self.liquid == "detergent":
            for bubble_x, bubble_y, size in coil_shape.bubbles(left, top, unit):
                dot(bubble_x, bubble_y, 2 * size + line, line)
        else:
            for wave in coil_shape.breeze(left, top, unit):
                stroke(wave, line)
