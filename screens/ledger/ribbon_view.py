"""The time ribbon as drawn: a line of words and a bar for every stage, all bars on one axis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.label import Label

from data.ribbon import Bar
from protocols.clock import clock_text, local
from screens import theme
from screens.moments import span_words
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.text import Fitted, line_height_px, width_px
from screens.words import say

_BAR_DP = 12.0
# From this width on a stage's words stand beside its bar, which halves the height. Own figures.
_WIDE_DP = 400.0
_NAME_SHARE = 0.2


class Ribbon(Drawn):
    """Shows the stages of one cycle; what ran by itself is drawn full, a double line for disinfectant.

    The stretch past a limit is crimson and its length stands in words above it.
    """

    def __init__(self, bars: Sequence[Bar], zone: str, **kwargs: Any) -> None:
        self._bars, self._zone = list(bars), zone
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        for name in ("pos", "size"):
            self.fbind(name, self._place_labels)
        self._place_labels()

    @property
    def _wide(self) -> bool:
        return bool(self.width >= dp(_WIDE_DP))

    def _row_px(self) -> float:
        return float(line_height_px("detail") + dp(2 if self._wide else _BAR_DP + 6))

    def _times_px(self) -> float:
        """The room of the times beside the bars, 0 where they stand above them."""
        return max(width_px(self._times(bar), "detail") for bar in self._bars) + dp(12) if self._wide else 0.0

    def _times(self, bar: Bar) -> str:
        length = span_words((bar.end_ms - bar.start_ms) / 1000)
        return say("ribbon.times", start=self._clock(bar.start_ms), length=length)

    def _measure(self) -> None:
        """Where the bars begin and end."""
        beside = self._wide and bool(self._bars)
        self._left = self.x + (self.width * _NAME_SHARE if beside else 0.0)
        self._right = self.far_x - (self._times_px() if beside else 0.0)

    def _ends(self) -> tuple[int, int]:
        start, end = self._bars[0].start_ms, self._bars[-1].end_ms
        return start, max(end, start + 1)

    def _x(self, moment_ms: int) -> float:
        start, end = self._ends()
        return float(self._left + (moment_ms - start) / (end - start) * (self._right - self._left))

    def _row_floor(self, number: int) -> float:
        return float(self.far_y - (number + 1) * self._row_px() + dp(4))

    def _place_labels(self, *_: Any) -> None:
        self.height = len(self._bars) * self._row_px() + line_height_px("mark") + dp(8)
        self._measure()
        self.clear_widgets()
        if not self._bars:
            return
        for number, bar in enumerate(self._bars):
            y = self._row_floor(number) + dp(-4 if self._wide else _BAR_DP + 1)
            times = self._times(bar)
            late = say("watch.over", time=clock_text(bar.late_s)) if bar.lates else ""
            wide = width_px(times, "detail") + dp(6)
            self._label(times, self.far_x - wide, y, wide, "detail", "quiet", halign="right")
            name = say(f"stage.{bar.stage.replace(' ', '_')}")
            most = self.width * _NAME_SHARE - dp(6) if self._wide else self.width * 0.36
            name_wide = min(width_px(name, "detail", bold=True) + dp(6), most)
            self._label(name, self.x, y, name_wide, "detail", "ink", bold=True)
            if late:
                left = self._late_x(bar, late) if self._wide else self.x + name_wide + dp(6)
                self._label(late, left, y, self.far_x - wide - dp(6) - left, "detail", "over_text", bold=True)
        self._place_axis()

    def _late_x(self, bar: Bar, late: str) -> float:
        """Where the words of a stretch past a limit stand beside their bar: after it, before it where it ends late."""
        wide = width_px(late, "detail", bold=True) * 1.06 + dp(8)
        after = self._x(bar.end_ms) + dp(6)
        return after if after + wide <= self._right else max(self._left, self._x(bar.start_ms) - wide)

    def _place_axis(self) -> None:
        start, end = self._ends()
        for part in range(4):
            moment = start + (end - start) * part // 3
            text = self._clock(moment)
            wide = width_px(text, "mark") + dp(4)
            x = self._x(moment) - wide / 2.0
            x = min(max(self._left, x), self._right - wide)
            self._label(text, x, self.y, wide, "mark", "quiet")

    def _clock(self, moment_ms: int) -> str:
        return f"{local(moment_ms, self._zone):%H:%M}"

    def _label(
        self, text: str, x: float, y: float, wide: float, step: str, role: str, bold: bool = False, halign: str = "left"
    ) -> None:
        label: Label = Fitted(text, step=step, role=role, bold=bold, halign=halign, size_hint_x=None)
        label.size = (max(1.0, wide), line_height_px(step))
        label.pos = (x, y)
        self.add_widget(label)

    def draw(self) -> None:
        """Draw each bar in its row over ticks at the thirds of the axis, and the axis itself."""
        self._measure()
        for number, bar in enumerate(self._bars):
            self._draw_bar(bar, self._row_floor(number))
        if self._bars:
            foot = self.y + line_height_px("mark") + dp(3)
            brush("todo")
            stroke([self._left, foot, self._right, foot], dp(theme.RULE_DP))

    def _draw_bar(self, bar: Bar, low: float) -> None:
        high = dp(_BAR_DP)
        start, end = self._ends()
        brush("rule")
        stroke([self._left, low + high / 2.0, self._right, low + high / 2.0], dp(1.0))
        for part in range(4):
            x = self._x(start + (end - start) * part // 3)
            stroke([x, low, x, low + high], dp(1.2))
        brush("todo")
        self._piece(bar.start_ms, bar.end_ms, low + high * 0.3, high * 0.4)
        for run in bar.runs:
            brush("track")
            self._piece(run.start_ms, run.end_ms, low, high)
            brush("fill")
            if run.kind == "disinfectant":
                self._piece(run.start_ms, run.end_ms, low, high * 0.38)
                self._piece(run.start_ms, run.end_ms, low + high * 0.62, high * 0.38)
            else:
                self._piece(run.start_ms, run.end_ms, low, high)
        brush("over")
        for late in bar.lates:
            self._piece(late.start_ms, late.end_ms, low + high * 0.22, high * 0.56)

    def _piece(self, start_ms: int, end_ms: int, low: float, high: float) -> None:
        left, right = max(self._left, self._x(start_ms)), min(self._right, self._x(end_ms))
        wide = max(dp(3), right - left)
        card(min(left, self._right - wide), low, wide, high, min(high / 2.0, dp(theme.RULE_DP * 3)))
