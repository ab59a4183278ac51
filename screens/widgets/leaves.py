"""Leaves: a column too long for the screen, shown a screenful at a time. Nothing is ever half shown, or swiped.

The blocks keep their order. Blocks marked as first are on the first leaf whatever else has to wait for the next; a
bar turns the leaf, at its foot, or at its side where the leaf is low. Only the blocks of the leaf shown are in the
tree, so the others cost nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.button import BigButton
from screens.widgets.text import line_height_px, width_px
from screens.words import say

# A leaf lower than this and wider than that has its bar at the side, as wide as this: height is what is scarce. Own
# figures.
_LOW_DP, _WIDE_DP, _LEAST_DP, _BAR_DP = 340.0, 420.0, 290.0, 92.0


def split(heights: Sequence[float], first: Sequence[int], room: float, bar: float, gap: float) -> list[list[int]]:
    """Give the numbers of the blocks on each leaf.

    `first` are the numbers of the blocks that the first leaf must hold, most important first. When all fit there is
    one leaf and no bar (0 for one that takes no height); a block taller than a whole leaf gets one of its own.
    """
    if sum(heights) + gap * max(0, len(heights) - 1) <= room:
        return [list(range(len(heights)))]
    room -= bar + gap if bar else 0.0
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
        self._laid_for, self._beside = (0.0, 0.0), False
        self.count = 1
        self._bar = BigButton("", small=True, look="plain")
        self._bar.bind(on_command=lambda *_: self.turn())
        self._again = Clock.create_trigger(self._lay_out, -1)
        self._decide = Clock.create_trigger(self._go_beside)
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
        if self._laid_for != (self.width, self.height):
            self._laid_for, self._beside = (self.width, self.height), False
        taken = dp(_BAR_DP) + gap if self._beside else 0.0
        for block in self._blocks:
            if block.width != self.width - taken:
                block.width = self.width - taken
        leaves = self._split(gap)
        if not self._beside and self._lacks_height(len(leaves), gap):
            self._decide()
        self.count = len(leaves)
        self._at = min(self._at, self.count - 1)
        shown = [self._blocks[number] for number in leaves[self._at]]
        if self.count > 1:
            last = self._at + 1 == self.count
            self._bar.set_words(say("leaves.top" if last else "leaves.more", at=self._at + 1, of=self.count))
        self._bar.least_height = self.height if self._beside else self._bar_px()
        self._bar.width = dp(_BAR_DP) if self._beside else self.width
        self._put(shown, gap)

    def _bar_px(self) -> float:
        """As high as the longer of its wordings needs: a bar that grew and shrank would move blocks between leaves."""
        room = max(1.0, self.width - 2 * dp(theme.PAD_DP))
        # As digits are equally wide, the numbers of leaves do not matter.
        long = max(width_px(say(words, at=10, of=10), "title", bold=True) for words in ("leaves.top", "leaves.more"))
        lines = ceil(long * 1.06 / room)
        return max(dp(theme.TARGET_OTHER_DP), lines * line_height_px("title") + 2 * dp(theme.PAD_DP))

    def _split(self, gap: float) -> list[list[int]]:
        heights = [float(block.height) for block in self._blocks]
        first = [self._blocks.index(block) for block in self._first]
        return split(heights, first, float(self.height), 0.0 if self._beside else float(self._bar.height), gap)

    def _lacks_height(self, count: int, gap: float) -> bool:
        """Whether the bar should stand at the side: the leaf is low and wide, or a block would lie under the bar."""
        if count < 2 or self.width < dp(_LEAST_DP):
            return False
        tallest = max(block.height for block in self._blocks)
        low = self.height < dp(_LOW_DP) and self.width >= dp(_WIDE_DP)
        return bool(low or tallest + gap + self._bar.height > self.height)

    def _go_beside(self, *_: Any) -> None:
        # A frame later, when every block has the height that its words need. Until the size changes it stays so:
        # blocks that change their width to and fro would change their height with it, and never come to rest.
        if not self._beside and self._lacks_height(len(self._split(dp(self._gap))), dp(self._gap)):
            self._beside = True
            self._lay_out()

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
        self._bar.pos = (self.x + self.width - self._bar.width, self.y)
