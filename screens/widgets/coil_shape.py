"""The geometry of the coil: plain functions over points, no window needed.

Points are flat lists x1, y1, x2, y2 as the drawing library takes them, y upwards. The spiral starts in the
middle and ends at the right, running upwards there, so that a ready coil can turn its end up without a kink.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache

TURNS = 1.75
INNER_SHARE = 0.14
"""Radius of the inner end, as a share of the outer radius."""
FLATNESS_PX = 0.15
"""How far a straight piece may lie inside the true curve: less than can be seen."""


@lru_cache(maxsize=64)
def spiral(centre_x: float, centre_y: float, radius: float, shift: float = 0.0) -> tuple[float, ...]:
    """Give the spiral inside the circle of this radius, from its inner to its outer end.

    `shift` moves the whole track outwards (positive) or inwards; two tracks shifted by opposite amounts are
    parallel.
    """
    per_turn = math.pi / math.acos(1.0 - min(0.5, FLATNESS_PX / max(1.0, radius)))
    count = max(16, math.ceil(TURNS * per_turn))
    inner = radius * INNER_SHARE
    points: list[float] = []
    for step in range(count + 1):
        share = step / count
        angle = -2.0 * math.pi * TURNS * (1.0 - share)
        distance = inner + (radius - inner) * share + shift
        points += (centre_x + distance * math.cos(angle), centre_y + distance * math.sin(angle))
    return tuple(points)


def length(points: Sequence[float]) -> float:
    """Give the length of the line through the points."""
    return sum(
        math.hypot(points[at + 2] - points[at], points[at + 3] - points[at + 1]) for at in range(0, len(points) - 2, 2)
    )


def part(points: Sequence[float], start: float, end: float) -> list[float]:
    """Give the part of a line between two shares of its length (0 to 1, `start` below `end`).

    The ends are exact: they are put between two points where needed. An empty part gives no points.
    """
    start, end = max(0.0, start), min(1.0, end)
    if end <= start or len(points) < 4:
        return []
    total = length(points)
    return _between(points, start * total, end * total)


def _between(points: Sequence[float], from_length: float, to_length: float) -> list[float]:
    chosen: list[float] = []
    walked = 0.0
    for at in range(0, len(points) - 2, 2):
        x1, y1, x2, y2 = points[at : at + 4]
        piece = math.hypot(x2 - x1, y2 - y1)
        if piece == 0.0:
            continue
        first = (from_length - walked) / piece
        last = (to_length - walked) / piece
        if not chosen and first <= 1.0:
            share = max(0.0, first)
            chosen += (x1 + (x2 - x1) * share, y1 + (y2 - y1) * share)
        if chosen:
            share = min(1.0, last)
            chosen += (x1 + (x2 - x1) * share, y1 + (y2 - y1) * share)
            if last <= 1.0:
                break
        walked += piece
    return chosen


def reaches(points: Sequence[float]) -> list[float]:
    """Give how far along the line each of its points lies."""
    walked, found = 0.0, [0.0]
    for at in range(0, len(points) - 2, 2):
        walked += math.hypot(points[at + 2] - points[at], points[at + 3] - points[at + 1])
        found.append(walked)
    return found


def grown(
    points: Sequence[float], corners: list[float], reach: Sequence[float], share: float, half: float
) -> list[float]:
    """Give the corners of the first `share` of a ribbon, from the `corners` of all of it and the reach of its points.

    Costs a search and one new end, however long the line is: it is asked for once a second.
    """
    if share <= 0.0 or len(points) < 4:
        return []
    if share >= 1.0:
        return corners
    goal = share * reach[-1]
    number = bisect_right(reach, goal) - 1
    x1, y1, x2, y2 = points[2 * number : 2 * number + 4]
    piece = reach[number + 1] - reach[number]
    along = (goal - reach[number]) / piece
    x, y = x1 + (x2 - x1) * along, y1 + (y2 - y1) * along
    off_x, off_y = -(y2 - y1) / piece * half, (x2 - x1) / piece * half
    end = [x + off_x, y + off_y, 0.0, 0.0, x - off_x, y - off_y, 1.0, 0.0]
    return corners[: 8 * (number + 1)] + end


def ribbon(points: Sequence[float], half: float) -> list[float]:
    """Give a strip of triangles along a curve, `half` to each side: x, y, place across (0 or 1), 0 for each
    corner.

    At each point the strip stands square to the line from its neighbour before to its neighbour after.
    """
    corners: list[float] = []
    for at in range(0, len(points), 2):
        before, after = max(0, at - 2), min(len(points) - 2, at + 2)
        along_x, along_y = points[after] - points[before], points[after + 1] - points[before + 1]
        reach = math.hypot(along_x, along_y) or 1.0
        off_x, off_y = -along_y / reach * half, along_x / reach * half
        x, y = points[at], points[at + 1]
        corners += (x + off_x, y + off_y, 0.0, 0.0, x - off_x, y - off_y, 1.0, 0.0)
    return corners


def broken(total: float, dash: float, gap: float) -> list[tuple[float, float]]:
    """Break a line of length `total` into dashes; give each as its share from start to end.

    It starts and ends with a dash. Shares, not points, so that two parallel tracks break at the same places.
    """
    if total <= dash:
        return [(0.0, 1.0)]
    # The gaps give way a little so that the outer end is always drawn: a half dash would look like an error.
    count = max(2, round((total + gap) / (dash + gap)))
    stretch = (total - count * dash) / (count - 1)
    if stretch <= 0.0:
        return [(0.0, 1.0)]
    return [(at * (dash + stretch) / total, (at * (dash + stretch) + dash) / total) for at in range(count)]


def upturned(points: Sequence[float], top_y: float) -> list[float]:
    """Give the line with its outer end carried straight up to the height `top_y`."""
    return [*points, points[-2], max(top_y, points[-1])]


def arrow_head(tip_x: float, tip_y: float, width: float, height: float) -> list[float]:
    """Give the three corners of an arrow head that points upwards, its tip first."""
    return [tip_x, tip_y, tip_x - width / 2.0, tip_y - height, tip_x + width / 2.0, tip_y - height]


def bubbles(left: float, top: float, unit: float) -> list[tuple[float, float, float]]:
    """Give three bubbles (centre x, centre y, radius) in the upper left corner, for a detergent bath."""
    return [
        (left + unit * 1.15, top - unit * 1.15, unit * 1.0),
        (left + unit * 3.1, top - unit * 0.75, unit * 0.62),
        (left + unit * 0.75, top - unit * 3.0, unit * 0.55),
    ]


def breeze(left: float, top: float, unit: float) -> list[list[float]]:
    """Give three wavy strokes in the upper left corner, for drying air."""
    strokes = []
    for number in range(3):
        y = top - unit * (0.6 + 1.35 * number)
        reach = unit * (4.4 - 1.1 * number)
        wave: list[float] = []
        for step in range(9):
            share = step / 8.0
            wave += (left + reach * share, y + unit * 0.32 * math.sin(share * 2.0 * math.pi))
        strokes.append(wave)
    return strokes
