"""The lanes of the Bench: as many as fit, a button turns to the rest. What is not shown is neither built nor updated.

Lanes are recycled: there are only as many widgets as were ever shown at once, whatever the number of scopes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.properties import BooleanProperty, NumericProperty
from kivy.uix.widget import Widget

from screens import theme


class Flow(Widget):
    """Shows `heads` at the top of the first screenful, then rows.

    `make` builds a row, `fill(row, item)` sets what it shows; a row sets its own height. `more` is how many rows come
    after those shown, `turned` whether the first screenful is not the one shown; a button beside it calls `turn`.
    """

    more = NumericProperty(0)
    turned = BooleanProperty(False)
    shown_rows = NumericProperty(0)

    def __init__(
        self,
        heads: Sequence[Widget],
        make: Callable[[], Widget],
        fill: Callable[[Widget, Any], None],
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self._heads = list(heads)
        self._make, self._fill = make, fill
        self._items: list[Any] = []
        self._pool: list[Widget] = []
        # Number of the first row of each screenful up to the one shown.
        self._starts = [0]
        self._again = Clock.create_trigger(self._lay_out, -1)
        for name in ("pos", "size"):
            self.fbind(name, self._again)
        for head in self._heads:
            head.fbind("height", self._again)

    def show(self, items: Sequence[Any]) -> None:
        """Show these items, in this order, from the screenful that is open now."""
        self._items = list(items)
        while len(self._starts) > 1 and self._starts[-1] >= len(self._items):
            self._starts.pop()
        self._lay_out()

    def turn(self) -> None:
        """Show the next screenful, after the last one the first again."""
        after = self._starts[-1] + self.shown_rows
        if (self.shown_rows and after < len(self._items)) or (not self.turned and self.more):
            self._starts.append(after)
        else:
            self._starts = [0]
        self._lay_out()

    def to_top(self) -> None:
        """Show the first screenful."""
        self._starts = [0]

    def _row(self, number: int) -> Widget:
        while len(self._pool) <= number:
            row = self._make()
            row.fbind("height", self._again)
            self._pool.append(row)
        return self._pool[number]

    def _lay_out(self, *_: Any) -> None:
        if self.width < 2 or self.height < 2:
            return
        gap = dp(theme.GAP_DP)
        first = self._starts[-1]
        heads = self._heads_of(len(self._starts) - 1, gap)
        top = self.height - sum(head.height + gap for head in heads)
        rows = self._fitting(first, top, gap)
        self._place(heads, rows, gap)
        self.shown_rows = len(rows)
        self.more = len(self._items) - first - len(rows)
        self.turned = len(self._starts) > 1

    def _heads_of(self, screenful: int, gap: float) -> list[Widget]:
        """The heads of the first screenful; those for which it has no room come on the second."""
        kept: list[Widget] = []
        left: list[Widget] = []
        room = self.height
        for head in self._heads:
            head.width = self.width
            if head.height <= 0:
                continue
            if room >= head.height and not left:
                kept.append(head)
                room -= head.height + gap
            else:
                left.append(head)
        return kept if screenful == 0 else left if screenful == 1 else []

    def _fitting(self, first: int, room: float, gap: float) -> list[Widget]:
        """Fill rows from the item `first` on while they fit; after the heads alone, one row always is."""
        rows: list[Widget] = []
        for number, item in enumerate(self._items[first:]):
            row = self._row(number)
            row.width = self.width
            self._fill(row, item)
            room -= row.height
            if room < 0 and not (len(self._starts) > 2 and not rows):
                break
            rows.append(row)
            room -= gap
        return rows

    def _place(self, heads: list[Widget], rows: list[Widget], gap: float) -> None:
        wanted = [*heads, *rows]
        if list(reversed(self.children)) != wanted:
            self.clear_widgets()
            for widget in wanted:
                self.add_widget(widget)
        y = self.y + self.height
        for widget in (*heads, *rows):
            y -= widget.height
            widget.pos = (self.x, y)
            y -= gap
