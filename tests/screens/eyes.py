"""What a person can read on the screen as it is drawn: words count only where the picture really shows them.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import harness
import numpy
from kivy.core.window import Window

from screens.widgets.figure import Figure

# Words are read when they differ from their ground by more than this, of 255, and when so many of the pixels are nearer
# to the ink where letters are full, and nearer to the ground where there are none. Own figures; smoothing blurs edges.
FAINT, SHARE = 60, 0.85
_FULL = 250


class Seen(NamedTuple):
    """Words that are drawn, and where their middle is, in window pixels with y upwards."""

    text: str
    x: float
    y: float


def read(screen: harness.Screen) -> list[Seen]:
    """Give all words that the picture of the screen shows now."""
    picture = numpy.asarray(screen.picture())
    return [
        Seen(label.text, *label.to_window(*label.center)) for label in screen.shown_labels() if _drawn(label, picture)
    ]


def _drawn(label: Any, picture: Any) -> bool:
    middle_x, middle_y = label.to_window(*label.center)
    if isinstance(label, Figure):  # its characters are pictures of their own; that some are there is what can be said
        wide, tall = label.text_size_px
        part = _part(picture, label.to_window(label.x, label.y)[0], Window.height - middle_y - tall / 2, wide, tall)
        return part.size > 0 and bool(int(numpy.ptp(part.reshape(-1, 3), axis=0).max()) > FAINT)
    wide, tall = label.texture.size
    letters = numpy.frombuffer(label.texture.pixels, dtype=numpy.uint8).reshape(tall, wide, 4)[..., 3]
    ink = (numpy.asarray(label.disabled_color if label.disabled else label.color)[:3] * 255).round()
    left, top = middle_x - wide / 2, Window.height - middle_y - tall / 2
    # A label may stand between two pixels; to which its words were drawn is the driver's choice.
    around = ((left + right, top + down) for right in (0, -1, 1) for down in (0, -1, 1))
    return any(_matches(_part(picture, *corner, wide, tall), letters, ink) for corner in around)


def _part(picture: Any, left: float, top: float, wide: float, tall: float) -> Any:
    x, y = max(0, int(left)), max(0, int(top))
    return picture[y : y + round(tall), x : x + round(wide)]


def _matches(part: Any, letters: Any, ink: Any) -> bool:
    if part.shape[:2] != letters.shape:
        return False  # part of it lies beyond the edge
    full, empty = letters >= _FULL, letters == 0
    if not full.any() or not empty.any():
        return False
    part = part.astype(numpy.int16)
    ground = numpy.median(part[empty], axis=0)
    far = numpy.abs(ground - ink).max()
    inked = numpy.abs(part - ink).max(axis=2) < far / 2
    return bool(far > FAINT and inked[full].mean() >= SHARE and inked[empty].mean() <= 1 - SHARE)
