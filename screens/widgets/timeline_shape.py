"""Where the next needs for hands lie on a strip: a plain function, no window needed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

Level = Literal["over", "ready", "coming"]


@dataclass(frozen=True)
class HandsNeeded:
    """Says that a scope needs hands from `start_s` from now (below 0: already due) for `length_s`."""

    tag: str
    start_s: float
    length_s: float
    level: Level = "coming"


@dataclass(frozen=True)
class Placed:
    """A need on the strip: its row (0 is the lowest), its bar, and the left edge and width of its label."""

    need: HandsNeeded
    row: int
    bar_left: float
    bar_width: float
    label_left: float
    label_width: float


def place(
    needs: Sequence[HandsNeeded],
    span_s: float,
    width: float,
    label_width: Callable[[str], float],
    gap: float = 4.0,
    shortest_bar: float = 8.0,
    rows: int = 3,
    beside: float = 3.0,
) -> tuple[list[Placed], int]:
    """Place needs so that nothing of one row touches; give them and how many did not fit.

    Needs that begin after the span are left out and not counted. What is already due is drawn at the left
    edge. The most urgent are placed first, so that what does not fit is never something over its limit before
    something coming.
    """
    order = {"over": 0, "ready": 1, "coming": 2}
    within = sorted(
        (need for need in needs if need.start_s < span_s),
        key=lambda need: (order[need.level], need.start_s, need.tag),
    )
    taken: list[list[tuple[float, float]]] = [[] for _ in range(rows)]
    placed: list[Placed] = []
    for need in within:
        left = max(0.0, need.start_s) / span_s * width
        right = min(width, (max(0.0, need.start_s) + need.length_s) / span_s * width)
        bar_width = min(width, max(shortest_bar, right - left))
        bar_left = min(left, width - bar_width)
        wide = label_width(need.tag)
        # The tag stands beside its bar, where there is room at the right; so a row is no higher than a line of text.
        label_left = bar_left + bar_width + beside
        if label_left + wide > width:
            label_left = max(0.0, bar_left - beside - wide)
        begin, end = min(bar_left, label_left), max(bar_left + bar_width, label_left + wide)
        for row in range(rows):
            if all(end + gap <= other_begin or begin >= other_end + gap for other_begin, other_end in taken[row]):
                taken[row].append((begin, end))
                placed.append(Placed(need, row, bar_left, bar_width, label_left, wide))
                break
    return placed, len(within) - len(placed)
