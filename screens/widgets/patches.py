"""Small pictures of corners and edges, made once, from which cards and tracks are drawn.

A rounded rectangle out of many thin triangles costs a software renderer more than all text on the screen. Out
of nine pieces of one small picture it costs next to nothing, and its corners are smooth without
multisampling.
"""

from __future__ import annotations

import math
from functools import lru_cache

from kivy.graphics.texture import Texture


@lru_cache(maxsize=64)
def rounded(radius: int, line: int) -> Texture:
    """Give a white rounded square 2 * radius + 2 pixels wide; its outline only when `line` is above 0."""
    side = 2 * radius + 2
    pixels = bytearray()
    for row in range(side):
        for column in range(side):
            distance = math.hypot(_beyond(column, radius), _beyond(row, radius))
            alpha = _share(radius - distance + 0.5)
            if line:
                alpha -= _share(radius - line - distance + 0.5)
            pixels += bytes((255, 255, 255, round(255 * alpha)))
    return _texture(side, side, bytes(pixels))


@lru_cache(maxsize=64)
def disc(radius: int, line: float) -> Texture:
    """Give a white disc of 2 * radius pixels a side; with `line` above 0 only its outline that thick."""
    side = 2 * radius
    pixels = bytearray()
    for row in range(side):
        for column in range(side):
            distance = math.hypot(column + 0.5 - radius, row + 0.5 - radius)
            alpha = _share(radius - distance + 0.5)
            if line:
                alpha -= _share(radius - line - distance + 0.5)
            pixels += bytes((255, 255, 255, round(255 * alpha)))
    return _texture(side, side, bytes(pixels))


@lru_cache(maxsize=64)
def across(thick: float) -> Texture:
    """Give the profile of a track across its width: `thick` pixels and one more on each side to fade."""
    side = 64
    pixel = side / (thick + 2.0)
    pixels = bytearray()
    for column in range(side):
        from_edge_px = min(column + 0.5, side - column - 0.5) / pixel
        pixels += bytes((255, 255, 255, round(255 * _share(from_edge_px / 2.0))))
    return _texture(side, 1, bytes(pixels))


def _beyond(place: int, radius: int) -> float:
    """Give how far a pixel lies beyond the straight middle, towards a corner."""
    middle = place + 0.5
    return max(0.0, radius - middle, middle - radius - 2)


def _share(value: float) -> float:
    return max(0.0, min(1.0, value))


def _texture(wide: int, high: int, pixels: bytes) -> Texture:
    texture = Texture.create(size=(wide, high), colorfmt="rgba")
    texture.wrap = "clamp_to_edge"

    def fill(target: Texture) -> None:
        target.blit_buffer(pixels, colorfmt="rgba", bufferfmt="ubyte")

    fill(texture)
    # Android throws the picture away when the app is paused; Kivy asks for it again through this.
    texture.add_reload_observer(fill)
    return texture
