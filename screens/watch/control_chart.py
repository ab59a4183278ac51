"""A control chart on the screen: points over their mean and limits, unusual ones of this week large and crimson."""

from __future__ import annotations

from math import isinf, log
from typing import Any

from kivy.metrics import dp
from kivy.uix.label import Label

from data.week_charts import WeekChart
from screens import theme
from screens.watch.week_words import chart_value
from screens.widgets.drawn import Drawn, brush, dot, stroke
from screens.widgets.text import Fitted, line_height_px, width_px

_HIGH_DP = 104.0


class ControlChart(Drawn):
    """Draws one chart; `tell` gives it, and the same again costs nothing."""

    def __init__(self, **kwargs: Any) -> None:
        self._chart: WeekChart | None = None
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self.height = dp(_HIGH_DP)
        for name in ("pos", "size"):
            self.fbind(name, self._place_labels)

    def tell(self, chart: WeekChart) -> None:
        """Show a chart."""
        if chart == self._chart:
            return
        self._chart = chart
        self._place_labels()
        self.redraw()

    def _y(self, value: float) -> float:
        """Where a value stands; times by their logarithm, as they were judged."""
        one = self._chart
        if one is None:
            return float(self.y)
        points = one.chart.points
        values = [p.value for p in points] + [p.lower for p in points]
        tops = [p.value for p in points] + [p.upper for p in points if not isinf(p.upper)]
        scale = (lambda v: log(max(v, 1e-9))) if one.unit in ("s", "times") else float
        low, high = scale(min(values)), scale(max(tops))
        room, margin = self.height - 2 * dp(8), dp(8)
        share = (scale(value) - low) / ((high - low) or 1.0)
        return float(self.y + margin + room * min(1.0, max(0.0, share)))

    def _marks(self) -> list[tuple[float, str]]:
        one = self._chart
        if one is None:
            return []
        last, centre = one.chart.points[-1], one.chart.centre
        marks = [(self._y(v), chart_value(one, v)) for v in (last.lower, centre, last.upper) if not isinf(v)]
        high = line_height_px("mark")
        # Lines that lie close together keep only the mean's figure.
        middle = self._y(centre)
        return [(y, text) for y, text in marks if y == middle or abs(y - middle) >= high]

    def _left(self) -> float:
        return max((width_px(text, "mark") for _, text in self._marks()), default=0.0) + dp(10)

    def _place_labels(self, *_: Any) -> None:
        self.clear_widgets()
        high = line_height_px("mark")
        for y, text in self._marks():
            label: Label = Fitted(text, step="mark", role="quiet", halign="right", size_hint_x=None)
            label.size = (self._left() - dp(4), high)
            label.pos = (self.x, min(max(y - high / 2.0, self.y), self.far_y - high))
            self.add_widget(label)

    def draw(self) -> None:
        """Draw limits and mean, then the points in order of time."""
        one = self._chart
        if one is None:
            return
        left = self.x + self._left()
        step = (self.far_x - left) / len(one.chart.points)
        places = [(left + (n + 0.5) * step, self._y(p.value)) for n, p in enumerate(one.chart.points)]
        brush("rule")
        stroke([left, self._y(one.chart.centre), self.far_x, self._y(one.chart.centre)], dp(theme.RULE_DP))
        brush("todo")
        for number, point in enumerate(one.chart.points):
            for value in (point.lower, point.upper):
                if not isinf(value):
                    x, y = left + number * step, self._y(value)
                    stroke([x, y, x + step, y], dp(1.2))
        if len(places) > 1:
            brush("fill")
            stroke([part for place in places for part in place], dp(1.6))
        for number, (x, y) in enumerate(places):
            unusual = number in one.unusual
            brush("over" if unusual else "ink" if number >= one.since else "todo")
            dot(x, y, dp(11) if unusual else dp(5))
