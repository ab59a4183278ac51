"""The next half hour as a strip: when hands are needed, for which scope, and which needs clash."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp
from kivy.properties import NumericProperty

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.text import Fitted, Words, line_height_px, width_px
from screens.widgets.timeline_shape import HandsNeeded, Placed, place
from screens.words import say

_ROLE_OF_LEVEL = {"over": "over_text", "ready": "ready", "coming": "fill"}
_BAR_DP = 11.0


class Timeline(Drawn):
    """Shows needs for hands over `span_s` seconds; `tell` sets all it shows at once."""

    span_s = NumericProperty(1800.0)
    rows_most = NumericProperty(3)

    def __init__(self, **kwargs: Any) -> None:
        self._needs: tuple[HandsNeeded, ...] = ()
        self._marks: tuple[tuple[float, str], ...] = ()
        self._said: tuple[object, ...] = ()
        self._placed: list[Placed] = []
        self._rows = 1
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._title = Fitted(say("timeline.title", minutes=int(self.span_s // 60)), step="detail", role="quiet")
        self._clash = Words(step="detail", role="over_text", bold=True, halign="right")
        # Labels are kept and moved: making one costs more than drawing the whole strip, and some move every second.
        self._tags: list[Fitted] = []
        self._clocks: list[Fitted] = []
        self._clash.fbind("height", self._arrange)
        for name in ("pos", "size", "span_s", "rows_most"):
            self.fbind(name, self._arrange)
        self._arrange()

    @property
    def pixel_s(self) -> float:
        """Give how many seconds one pixel stands for: nothing moves in less."""
        return float(self.span_s / max(1.0, self.width))

    def tell(self, needs: Sequence[HandsNeeded], clash: str = "", marks: Sequence[tuple[float, str]] = ()) -> None:
        """Show these needs, the words of a clash, and clock times at seconds from now below the strip."""
        # Told every second, but what moved by less than a pixel is not drawn again.
        px_s = self.pixel_s
        said = (
            tuple((need.tag, need.level, round(need.start_s / px_s), need.length_s) for need in needs),
            clash,
            tuple((round(at_s / px_s), text) for at_s, text in marks),
        )
        if said == self._said:
            return
        self._said = said
        self._needs, self._marks = tuple(needs), tuple(marks)
        self._clash.text = clash
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        title = say("timeline.title", minutes=int(self.span_s // 60))
        self._placed, left_out = place(
            self._needs,
            self.span_s,
            max(1.0, self.width),
            lambda tag: width_px(tag, "mark", bold=True),
            gap=dp(5),
            shortest_bar=dp(9),
            rows=int(self.rows_most),
            beside=dp(3),
        )
        self._rows = max((spot.row for spot in self._placed), default=-1) + 1
        if left_out:
            title += ", " + say("timeline.more", count=left_out)
        elif not self._placed:
            title += ": " + say("timeline.empty")
        self._title.text = title
        head = self._head_px()
        self.height = head + self._rows * self._row_px() + self._axis_px()
        self._place_labels(head)
        self.redraw()

    def _head_px(self) -> float:
        """Lay out the heading and give its height; a clash that does not fit beside the title goes below."""
        title_wide = width_px(self._title.text, "detail") + dp(4)
        clash_wide = width_px(self._clash.text, "detail", bold=True) + dp(4) if self._clash.text else 0.0
        beside = title_wide + dp(theme.GAP_DP) + clash_wide <= self.width
        self._title.width = max(1.0, min(self.width, title_wide))
        self._clash.width = max(1.0, clash_wide if beside else self.width)
        self._clash.halign = "right" if beside else "left"
        self._title.pos = (self.x, self.far_y - self._title.height)
        if beside:
            self._clash.pos = (self.far_x - self._clash.width, self.far_y - self._clash.height)
            return float(max(self._title.height, self._clash.height))
        self._clash.pos = (self.x, self._title.y - self._clash.height)
        return float(self._title.height + self._clash.height)

    @staticmethod
    def _row_px() -> float:
        return line_height_px("mark") + float(dp(1))

    def _axis_px(self) -> float:
        return float(dp(7)) + (line_height_px("mark") if self._marks else 0.0)

    def _place_labels(self, head: float) -> None:
        for number, spot in enumerate(self._placed):
            y = self._row_floor(spot.row)
            label = self._kept(self._tags, number, "ink", bold=True)
            self._put(label, spot.need.tag, self.x + spot.label_left, y, spot.label_width)
        for number, (at_s, text) in enumerate(self._marks):
            wide = width_px(text, "mark")
            x = self.x + min(max(0.0, at_s / self.span_s * self.width - wide / 2.0), max(0.0, self.width - wide))
            self._put(self._kept(self._clocks, number, "quiet", bold=False), text, x, self.y, wide)
        shown = [self._title, *([self._clash] if self._clash.text else [])]
        shown += [*self._tags[: len(self._placed)], *self._clocks[: len(self._marks)]]
        if list(reversed(self.children)) != shown:
            self.clear_widgets()
            for widget in shown:
                self.add_widget(widget)

    @staticmethod
    def _kept(labels: list[Fitted], number: int, role: str, bold: bool) -> Fitted:
        while len(labels) <= number:
            labels.append(Fitted("", step="mark", role=role, bold=bold, size_hint_x=None))
        return labels[number]

    @staticmethod
    def _put(label: Fitted, text: str, x: float, y: float, wide: float) -> None:
        label.text = text
        label.size = (wide + dp(2), line_height_px("mark"))
        label.pos = (x, y)

    def _row_floor(self, row: int) -> float:
        return float(self.y + self._axis_px() + row * self._row_px())

    def draw(self) -> None:
        """Draw the axis with a tick every five minutes, and the bars."""
        axis = self.y + self._axis_px() - dp(3)
        brush("todo")
        stroke([self.x, axis, self.far_x, axis], dp(1.6))
        for tick in range(int(self.span_s // 300) + 1):
            x = self.x + min(tick * 300.0 / self.span_s, 1.0) * self.width
            stroke([x, axis, x, axis - (dp(5) if tick % 2 == 0 else dp(3))], dp(1.6))
        for spot in self._placed:
            brush(_ROLE_OF_LEVEL[spot.need.level])
            floor = self._row_floor(spot.row) + (line_height_px("mark") - dp(_BAR_DP)) / 2.0
            card(self.x + spot.bar_left, floor, spot.bar_width, dp(_BAR_DP), dp(_BAR_DP / 2.0))
