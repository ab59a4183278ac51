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
    texture = _mirrored(radius + 1, radius, line)
    # Always drawn pixel for pixel, or stretched where it is even: smoothing would change nothing and costs more.
    texture.mag_filter = texture.min_filter = "nearest"
    return texture


@lru_cache(maxsize=64)
def disc(radius: int, line: float) -> Texture:
    """Give a white disc of 2 * radius pixels a side; with `line` above 0 only its outline that thick."""
    return _mirrored(radius, radius, line)


def _mirrored(half: int, radius: int, line: float) -> Texture:
    """Give a square of 2 * half pixels a side with round corners: only one corner is computed, the rest mirrors it."""
    away = [max(0.0, radius - place - 0.5) for place in range(half)]
    rows = []
    for up in away:
        left = []
        for across_px in away:
            distance = math.hypot(across_px, up)
            alpha = _share(radius - distance + 0.5)
            if line:
                alpha -= _share(radius - line - distance + 0.5)
            left.append(b"\xff\xff\xff%c" % round(255 * alpha))
        rows.append(b"".join([*left, *reversed(left)]))
    return from_pixels(2 * half, 2 * half, b"".join([*rows, *reversed(rows)]))


@lru_cache(maxsize=1)
def edge() -> Texture:
    """Give the profile of a smooth line of Kivy across its width: soft at both sides."""
    return from_pixels(4, 1, b"\xff\xff\xff\x07" + b"\xff\xff\xff\xff" * 2 + b"\xff\xff\xff\x07")


@lru_cache(maxsize=64)
def across(thick: float) -> Texture:
    """Give the profile of a track across its width: `thick` pixels and one more on each side to fade."""
    side = 64
    pixel = side / (thick + 2.0)
    pixels = bytearray()
    for column in range(side):
        from_edge_px = min(column + 0.5, side - column - 0.5) / pixel
        pixels += bytes((255, 255, 255, round(255 * _share(from_edge_px / 2.0))))
    return from_pixels(side, 1, bytes(pixels))


def _share(value: float) -> float:
    return max(0.0, min(1.0, value))


def from_pixels(wide: int, high: int, pixels: bytes) -> Texture:
    """Give a texture of these pixels, row by row from the lowest, four bytes each; it survives a lost context."""
    texture = Texture.create(size=(wide, high), colorfmt="rgba")
    texture.wrap = "clamp_to_edge"

    def fill(target: Texture) -> None:
        target.blit_buffer(pixels, colorfmt="rgba", bufferfmt="ubyte")

    fill(texture)
    # Android throws the picture away when the app is paused; Kivy asks for it again through this.
    texture.add_reload_observer(fill)
    return texture
