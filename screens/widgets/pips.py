"""Counts as large pips: how many passes or flushes are done and needed, with the volume of each."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp, sp
from kivy.properties import NumericProperty, StringProperty

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, dot
from screens.widgets.text import Fitted
from screens.words import say

_LARGEST_DP = 96.0
_SMALLEST_DP = 44.0
MOST_PIPS = 10
"""More than this cannot be counted at a glance: a bar with the count in figures is shown instead."""


def arrange(needed: int, width: float, gap: float, largest: float, smallest: float) -> tuple[int, float]:
    """Give how many pips go in a row, and the diameter of each, for a width in the same unit.

    One row is tried first; when its pips would be smaller than `smallest`, the count is split over two rows.
    """
    for rows in (1, 2):
        in_row = -(-needed // rows)
        diameter = min(largest, (width - gap * (in_row - 1)) / in_row)
        if diameter >= smallest:
            break
    return in_row, max(1.0, diameter)


class Pips(Drawn):
    """Shows `done` of `needed`; `each` is a short text in every pip, such as the volume of one flush."""

    done = NumericProperty(0)
    needed = NumericProperty(1)
    each = StringProperty("")
    redraw_on = ("done",)

    def __init__(self, **kwargs: Any) -> None:
        self._labels: list[tuple[Fitted, Fitted]] = []
        self._spots: list[tuple[float, float]] = []
        self._diameter = 1.0
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._count = Fitted(step="headline", bold=True, halign="center")
        for name in ("needed", "each"):
            self.fbind(name, self._rebuild)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.fbind("done", self._dress)
        self._rebuild()

    @property
    def as_bar(self) -> bool:
        """Say whether there are too many to show as pips."""
        return self.needed > MOST_PIPS

    def _rebuild(self, *_: Any) -> None:
        self.clear_widgets()
        self._labels = []
        if self.as_bar:
            self.add_widget(self._count)
        else:
            for number in range(1, int(self.needed) + 1):
                pair = (
                    Fitted(str(number), step="headline", bold=True, halign="center"),
                    Fitted(self.each, step="detail", halign="center"),
                )
                self._labels.append(pair)
                for label in pair:
                    self.add_widget(label)
        self._dress()
        self._arrange()

    def _dress(self, *_: Any) -> None:
        self._count.text = say("pips.count", done=int(self.done), needed=int(self.needed))
        for number, pair in enumerate(self._labels):
            for label in pair:
                label.paint("act_ink" if number < self.done else "ink")

    def _arrange(self, *_: Any) -> None:
        gap = dp(theme.GAP_DP) * 2
        if self.as_bar:
            self.height = self._count.height + dp(30)
            self._count.width = self.width
            self._count.pos = (self.x, self.y + dp(30))
            self.redraw()
            return
        in_row, self._diameter = arrange(int(self.needed), self.width, gap, dp(_LARGEST_DP), dp(_SMALLEST_DP))
        rows = -(-int(self.needed) // in_row)
        self.height = rows * self._diameter + (rows - 1) * gap
        self._spots = []
        for number in range(int(self.needed)):
            row, column = divmod(number, in_row)
            in_this_row = min(in_row, int(self.needed) - row * in_row)
            wide = in_this_row * self._diameter + (in_this_row - 1) * gap
            x = self.mid_x - wide / 2.0 + column * (self._diameter + gap)
            y = self.far_y - (row + 1) * self._diameter - row * gap
            self._spots.append((x, y))
            self._place_labels(number, x, y)
        self.redraw()

    def _place_labels(self, number: int, x: float, y: float) -> None:
        figure, each = self._labels[number]
        inner = self._diameter * 0.78
        for label, share in ((figure, 0.36), (each, 0.2)):
            most = min(self._diameter * share, sp(theme.step_sp(label.step)))
            label.never_above(most)
            label.height = most * 1.2
        stack = figure.height + (each.height if self.each else 0.0)
        below = y + (self._diameter - stack) / 2.0
        each.size = (inner, each.height)
        each.pos = (x + (self._diameter - inner) / 2.0, below)
        figure.size = (inner, figure.height)
        figure.pos = (each.x, below + (each.height if self.each else 0.0))

    def draw(self) -> None:
        """Draw done pips filled, the others as rings."""
        if self.as_bar:
            brush("track")
            card(self.x, self.y + dp(6), self.width, dp(16), dp(8))
            share = min(1.0, self.done / self.needed)
            if share > 0:
                brush("fill")
                card(self.x, self.y + dp(6), max(dp(16), self.width * share), dp(16), dp(8))
            return
        size, line = self._diameter, dp(3.5)
        for number, (x, y) in enumerate(self._spots):
            middle = x + size / 2.0, y + size / 2.0
            if number < self.done:
                brush("act")
                dot(*middle, size)
            else:
                brush("panel")
                dot(*middle, size)
                brush("act" if number == self.done else "todo")
                dot(*middle, size, line)
