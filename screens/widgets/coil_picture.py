"""The coil as a small picture, drawn once for each state, liquid, size and theme.

Its curves are hundreds of thin triangles: a software renderer spent more on them than on all words of the Bench. Drawn
once into a picture they cost no more than one word does.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from kivy.graphics import ClearBuffers, ClearColor, Fbo, Triangle
from kivy.graphics.texture import Texture
from kivy.metrics import dp

from screens import theme
from screens.widgets import coil_shape, patches
from screens.widgets.drawn import dot, stroke, track, untinted

_TRACK_SHARE = 0.22
"""Thickness of a single track as a share of the radius."""
_RAIL_SHARE = 0.13
_RAIL_SHIFT = 0.1
"""Thickness of one rail of the double track, and how far each lies from its middle."""
_RADIUS_SHARE = 0.4
"""Radius of the middle of the track as a share of the side: the rest is for the arrow head and the liquid's sign."""


def radius_px(side: int) -> float:
    """Give the radius of the middle of the track in a picture so wide."""
    return side * _RADIUS_SHARE


def end_px(side: int) -> float:
    """Give how far a round end reaches beyond the end of its track, and a pixel for its soft edge."""
    return radius_px(side) * _TRACK_SHARE / 2.0 + 1.0


@lru_cache(maxsize=64)
def picture(state: str, liquid: str, side: int, theme_name: str) -> Texture:
    """Give the picture of a coil, `side` pixels high and wide; for filling twice as wide: empty, then wholly filled.

    `theme_name` is that of the theme in use, whose colours it takes. Call it outside of any canvas.
    """
    sign = _sign(liquid, side)
    if state == "filling":
        rails = _rails(liquid, side)
        layers = [("track", lambda: _whole(rails)), ("fill", lambda: (_whole(rails), sign()))]
    elif state == "ready":
        layers = [("ready", lambda: (_ready(liquid, side), sign()))]
    else:
        layers = [("over_text", lambda: (_over(liquid, side), sign()))]
    halves = [_tinted(_mask(side, draw), role) for role, draw in layers]
    row = 4 * side
    pixels = b"".join(half[at : at + row] for at in range(0, row * side, row) for half in halves)
    texture = patches.from_pixels(side * len(halves), side, pixels)
    texture.mag_filter = texture.min_filter = "nearest"
    return texture


def sign_box(side: int) -> tuple[float, float, float, float]:
    """Give left, low, right and top of the corner that holds the liquid's sign and nothing of the track."""
    radius = radius_px(side)
    reach = 0.54 * radius
    return 0.0, side / 2.0 + 1.16 * radius - reach, side / 2.0 - 1.16 * radius + reach, float(side)


@lru_cache(maxsize=4)
def _buffer(side: int) -> Fbo:
    """Give what masks of this size are drawn into; it is kept, because each has a shader of its own."""
    return Fbo(size=(side, side))


def _mask(side: int, draw: Callable[[], object]) -> bytes:
    """Give how far each pixel is covered, row by row from the lowest."""
    buffer = _buffer(side)
    buffer.clear()
    with buffer:
        ClearColor(0, 0, 0, 1)
        ClearBuffers()
        untinted()
        draw()
    buffer.draw()
    return bytes(buffer.pixels[::4])


def _tinted(mask: bytes, role: str) -> bytearray:
    red, green, blue, _ = (round(255 * part) for part in theme.rgba(role))
    pixels = bytearray(bytes((red, green, blue, 0)) * len(mask))
    pixels[3::4] = mask
    return pixels


def _rails(liquid: str, side: int) -> list[tuple[tuple[float, ...], float]]:
    """Give each track as its points and its thickness: two for a disinfectant, else one."""
    middle, radius = side / 2.0, radius_px(side)
    if liquid != "disinfectant":
        return [(coil_shape.spiral(middle, middle, radius), radius * _TRACK_SHARE)]
    shift = radius * _RAIL_SHIFT
    return [(coil_shape.spiral(middle, middle, radius, by), radius * _RAIL_SHARE) for by in (-shift, shift)]


def _whole(rails: Sequence[tuple[tuple[float, ...], float]]) -> None:
    for points, thick in rails:
        track(points, thick)
        for x, y in (points[:2], points[-2:]):
            dot(x, y, thick)


def _ready(liquid: str, side: int) -> None:
    radius = radius_px(side)
    head = radius * 0.5
    top = side / 2.0 + radius * 1.2
    ends = []
    for points, thick in _rails(liquid, side):
        track(coil_shape.upturned(points, top - head * 0.7), thick)
        dot(points[0], points[1], thick)
        ends.append(points[-2])
    corners = coil_shape.arrow_head(sum(ends) / len(ends), top, head, head * 0.9)
    Triangle(points=corners)
    # Kivy's own smooth triangle loses its soft edges for good with a lost graphics context.
    stroke(corners, 1.0, close=True)


def _over(liquid: str, side: int) -> None:
    middle, radius = side / 2.0, radius_px(side)
    total = coil_shape.length(coil_shape.spiral(middle, middle, radius))
    dashes = coil_shape.broken(total, radius * 0.55, radius * 0.26)
    for points, thick in _rails(liquid, side):
        for start, end in dashes:
            track(coil_shape.part(points, start, end), thick)


def _sign(liquid: str, side: int) -> Callable[[], None]:
    radius = radius_px(side)
    unit, line = radius * 0.135, max(dp(1.2), radius * 0.05)
    left, top = side / 2.0 - radius * 1.16, side / 2.0 + radius * 1.16

    def draw() -> None:
        if liquid == "detergent":
            for x, y, size in coil_shape.bubbles(left, top, unit):
                dot(x, y, 2 * size + line, line)
        elif liquid == "air":
            for wave in coil_shape.breeze(left, top, unit):
                stroke(wave, line)

    return draw
