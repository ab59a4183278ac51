"""Leaves: a column too long for the screen, shown a screenful at a time. Nothing is ever half shown, or swiped.

The blocks keep their order. Blocks marked as first are on the first leaf whatever else has to wait for the next; a
bar at the foot turns the leaf. Only the blocks of the leaf shown are in the tree, so the others cost nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.button import BigButton
from screens.words import say


def split(heights: Sequence[float], first: Sequence[int], room: float, bar: float, gap: float) -> list[list[int]]:
    """Give the numbers of the blocks on each leaf.

    `first` are the numbers of the blocks that the first leaf must hold, most important first. When all fit there is
    one leaf and no bar; a block taller than a whole leaf gets one of its own.
    """
    if sum(heights) + gap * max(0, len(heights) - 1) <= room:
        return [list(range(len(heights)))]
    room -= bar + gap
    leaf: list[int] = []
    used = -gap
    for number in [*first, *(n for n in range(len(heights)) if n not in first)]:
        if used + gap + heights[number] <= room or not leaf:
            leaf.append(number)
            used += gap + heights[number]
        elif number not in first:
            break
    leaves = [sorted(leaf)]
    rest = [n for n in range(len(heights)) if n not in leaf]
    while rest:
        leaf, used = [], -gap
        while rest and (not leaf or used + gap + heights[rest[0]] <= room):
            used += gap + heights[rest[0]]
            leaf.append(rest.pop(0))
        leaves.append(leaf)
    return leaves


class Leaves(Widget):
    """Shows blocks from the top, `gap` dp apart. A block is any widget that sets its own height."""

    def __init__(self, gap: float = theme.GAP_DP, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._gap = gap
        self._blocks: list[Widget] = []
        self._first: list[Widget] = []
        self._at = 0
        self.count = 1
        self._bar = BigButton("", small=True, look="plain")
        self._bar.bind(on_command=lambda *_: self.turn())
        self._again = Clock.create_trigger(self._lay_out, -1)
        # Its height is right only once it has words: a leaf laid out before would hold other blocks than after.
        self._bar.fbind("height", self._again)
        for name in ("pos", "size"):
            self.fbind(name, self._again)

    def show(self, blocks: Sequence[Widget], first: Sequence[Widget] = ()) -> None:
        """Show these blocks, of the leaf that is open. The same blocks again cost nothing."""
        if list(blocks) == self._blocks and list(first) == self._first:
            return
        for block in self._blocks:
            if block not in blocks:
                block.funbind("height", self._again)
        for block in blocks:
            if block not in self._blocks:
                block.fbind("height", self._again)
        self._blocks, self._first = list(blocks), list(first)
        self._lay_out()

    def to_top(self) -> None:
        """Show the first leaf."""
        if self._at:
            self._at = 0
            self._lay_out()

    def turn(self) -> None:
        """Show the next leaf, after the last one the first again."""
        self._at = self._at + 1 if self._at + 1 < self.count else 0
        self._lay_out()

    @property
    def at(self) -> int:
        """Give the number of the leaf shown, from 0."""
        return self._at

    def _lay_out(self, *_: Any) -> None:
        if self.width < 2 or self.height < 2:
            return
        gap = dp(self._gap)
        for block in self._blocks:
            if block.width != self.width:
                block.width = self.width
        heights = [float(block.height) for block in self._blocks]
        first = [self._blocks.index(block) for block in self._first]
        leaves = split(heights, first, float(self.height), float(self._bar.height), gap)
        self.count = len(leaves)
        self._at = min(self._at, self.count - 1)
        shown = [self._blocks[number] for number in leaves[self._at]]
        if self.count > 1:
            last = self._at + 1 == self.count
            self._bar.set_words(say("leaves.top" if last else "leaves.more", at=self._at + 1, of=self.count))
        self._put(shown, gap)

    def _put(self, shown: list[Widget], gap: float) -> None:
        wanted = [*shown, self._bar] if self.count > 1 else shown
        if list(reversed(self.children)) != wanted:
            self.clear_widgets()
            for widget in wanted:
                self.add_widget(widget)
        y = self.y + self.height
        for block in shown:
            y -= block.height
            block.pos = (self.x, y)
            y -= gap
        self._bar.width = self.width
        self._bar.pos = (self.x, self.y)
