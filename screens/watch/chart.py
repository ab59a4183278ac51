"""The load of the coming hours as bars: how many pairs of hands are needed, with a line at one pair."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.label import Label

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.text import Fitted, line_height_px, width_px
from screens.words import say

_HIGH_DP = 92.0
# A taller crowd is drawn as this many pairs of hands: beyond, the picture says no more than "far too many".
_MOST = 3.0


class LoadChart(Drawn):
    """Bars over the coming hours; one above the line stands out by its height and its colour."""

    def __init__(self, **kwargs: Any) -> None:
        self._bars: tuple[float, ...] = ()
        self._marks: tuple[str, ...] = ()
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self.height = dp(_HIGH_DP) + 2 * line_height_px("mark") + dp(6)
        for name in ("pos", "size"):
            self.fbind(name, self._place_labels)

    def tell(self, bars: Sequence[float], marks: Sequence[str]) -> None:
        """Show bars, in pairs of hands, and clock times evenly spread from the left edge to the right one."""
        rounded, texts = tuple(round(bar, 2) for bar in bars), tuple(marks)
        if (rounded, texts) == (self._bars, self._marks):
            return
        self._bars, self._marks = rounded, texts
        self._place_labels()
        self.redraw()

    def _top(self) -> float:
        return min(_MOST, max(1.5, *self._bars)) if self._bars else 1.5

    def _floor(self) -> float:
        return float(self.y + line_height_px("mark") + dp(3))

    def _line_y(self) -> float:
        return float(self._floor() + dp(_HIGH_DP) / self._top())

    def _place_labels(self, *_: Any) -> None:
        self.clear_widgets()
        last = max(1, len(self._marks) - 1)
        for at, text in enumerate(self._marks):
            wide = width_px(text, "mark") + dp(4)
            x = self.x + min(max(0.0, at / last * self.width - wide / 2.0), max(0.0, self.width - wide))
            self._label(text, x, self.y, wide, "quiet")
        words = say("watch.one_pair")
        wide = width_px(words, "mark") + dp(4)
        # Above all bars, so that it is never crossed by one.
        self._label(words, self.x + self.width - wide, self._floor() + dp(_HIGH_DP) + dp(2), wide, "quiet")

    def _label(self, text: str, x: float, y: float, wide: float, role: str) -> None:
        label: Label = Fitted(text, step="mark", role=role, size_hint_x=None)
        label.size = (wide, line_height_px("mark"))
        label.pos = (x, y)
        self.add_widget(label)

    def draw(self) -> None:
        """Draw the bars from a common floor, then the dashed line of one pair of hands over them."""
        if not self._bars:
            return
        floor, high = self._floor(), dp(_HIGH_DP)
        step = self.width / len(self._bars)
        for at, need in enumerate(self._bars):
            if need <= 0:
                continue
            brush("over" if need > 1.0 else "fill")
            tall = max(dp(3), min(need, self._top()) / self._top() * high)
            card(self.x + at * step + dp(1.5), floor, step - dp(3), tall, dp(3))
        brush("ink")
        stroke([self.x, floor, self.far_x, floor], dp(theme.RULE_DP))
        y, dash = self._line_y(), dp(7)
        x = self.x
        while x < self.far_x:
            stroke([x, y, min(x + dash * 0.55, self.far_x), y], dp(1.3))
            x += dash
        # A short tail up to the words, so that the eye finds what they belong to.
        stroke([self.far_x - dp(1), y, self.far_x - dp(1), floor + high + dp(2)], dp(1.3))
