"""The coil: a scope lying coiled in its basin, as a track that fills from the inside out while time passes.

Shape, colour and a word each tell the state on their own: filling is a part of a pale track; ready is whole
and turns its end up with an arrow head; over is broken and says so in a word. The liquid shows in the track:
one track with bubbles beside it for detergent, a double track for disinfectant, one track with a breeze
beside it for air.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from kivy.graphics import Mesh, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import NumericProperty, OptionProperty

from screens import theme
from screens.widgets import coil_picture, coil_shape
from screens.widgets.drawn import Drawn, untinted
from screens.widgets.text import Fitted, line_height_px
from screens.words import say

# Half the width of the band through which the filled coil is seen, as a share of the radius. It ends in the gap
# between two turns, whichever the liquid: wider than any track, narrower than the way to the next. Own figure.
_BAND_SHARE = 0.25
# The band is as finely divided as a spiral of this radius: it only has to stay within that gap.
_COARSE_PX = 8.0


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
        self._mesh: Mesh | None = None
        self._still: list[float] = []
        self._drawn_share = -1.0
        self._texture: Texture | None = None
        super().__init__(**kwargs)
        self._word = Fitted(
            say("coil.over"), step="mark", role="over_text", bold=True, halign="center", size_hint_x=None
        )
        self.fbind("share", self._move)
        self.fbind("state", self._place_word)
        self.fbind("pos", self._place_word)
        self.fbind("size", self._place_word)
        self._place_word()

    def _place_word(self, *_: Any) -> None:
        shown = self._word.parent is not None
        if self.state == "over" and not shown:
            self.add_widget(self._word)
        elif self.state != "over" and shown:
            self.remove_widget(self._word)
        self._word.size = (self.width, line_height_px("mark"))
        self._word.pos = (self.x, self.y)

    def _frame(self) -> tuple[int, int, int]:
        """Give left, low and side of the picture, in whole pixels so that it stands as it was made."""
        below = line_height_px("mark") if self.state == "over" else 0.0
        side = max(2, int(min(self.width, self.height - below)))
        return round(self.mid_x - side / 2.0), round(self.y + below + (self.height - below - side) / 2.0), side

    def _redraw_now(self, *_: Any) -> None:
        self._mesh, self._drawn_share = None, -1.0
        if self.width >= 1 and self.height >= 1:
            # Before any canvas is open: making a picture opens one of its own.
            self._texture = coil_picture.picture(self.state, self.liquid, self._frame()[2], theme.name_in_use())
        super()._redraw_now()

    def draw(self) -> None:
        """Draw the picture; while filling, the filled one over the empty one as far as time has passed."""
        left, low, side = self._frame()
        untinted()
        if self.state != "filling":
            Rectangle(texture=self._texture, pos=(left, low), size=(side, side))
            return
        self._still = _pane(left, low, side, (0.0, 0.0, float(side), float(side)), 0.0)
        self._still += _pane(left, low, side, coil_picture.sign_box(side), 0.5)
        self._mesh = Mesh(texture=self._texture, mode="triangles")
        self._move()

    def _move(self, *_: Any) -> None:
        if self._mesh is None:
            return
        left, low, side = self._frame()
        points, corners, reach = _band(side)
        share = min(1.0, max(0.0, self.share))
        # A move of less than a pixel can hardly be seen; a long soak is then changed only every few seconds.
        moved_px = abs(share - self._drawn_share) * reach[-1]
        if self._drawn_share >= 0.0 and moved_px < 1.0 and 0.0 < share < 1.0:
            return
        self._drawn_share = share
        # The first piece of the band is the round inner end, which is seen from the beginning.
        end, half_px = reach[1] / reach[-1], _BAND_SHARE * coil_picture.radius_px(side)
        band = coil_shape.grown(points, corners, reach, end + share * (1.0 - end), half_px)
        vertices = list(self._still)
        for at in range(0, len(band), 4):
            vertices += _corner(left, low, side, band[at], band[at + 1], 0.5)
        self._mesh.vertices = vertices
        self._mesh.indices = _triangles(len(band) // 8)


@lru_cache(maxsize=16)
def _band(side: int) -> tuple[tuple[float, ...], list[float], list[float]]:
    """Give the middle of the band within the picture, its corners, and how far along it each of its points lies.

    It starts before the inner end of the track, by so much that its round end is seen.
    """
    radius = coil_picture.radius_px(side)
    scale = radius / _COARSE_PX
    points = [side / 2.0 + scale * at for at in coil_shape.spiral(0.0, 0.0, _COARSE_PX)]
    first_x, first_y, then_x, then_y = points[:4]
    back = coil_picture.end_px(side) / math.hypot(then_x - first_x, then_y - first_y)
    whole = (first_x - (then_x - first_x) * back, first_y - (then_y - first_y) * back, *points)
    return whole, coil_shape.ribbon(whole, _BAND_SHARE * radius), coil_shape.reaches(whole)


def _corner(left: float, low: float, side: int, x: float, y: float, half: float) -> tuple[float, float, float, float]:
    """Give a corner at a place of the picture, seen in its empty half (0) or its filled half (0.5)."""
    return left + x, low + y, half + x / (2.0 * side), y / side


def _pane(left: float, low: float, side: int, box: tuple[float, float, float, float], half: float) -> list[float]:
    """Give the four corners of a part of the picture: left, low, right and top of the box."""
    one, floor, other, top = box
    corners: list[float] = []
    for x, y in ((one, floor), (other, floor), (one, top), (other, top)):
        corners += _corner(left, low, side, x, y, half)
    return corners


@lru_cache(maxsize=64)
def _triangles(pairs: int) -> list[int]:
    """Give the triangles of the two panes, then of a band of so many pairs of corners."""
    strips = [0, 4, *(8 + 2 * piece for piece in range(max(0, pairs - 1)))]
    return [corner for at in strips for corner in (at, at + 1, at + 2, at + 1, at + 2, at + 3)]
