"""Parts of a scope's page: its heading, what runs, what a tap states, what has been done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from protocols.clock import local, parse_wall
from protocols.lane import Lane
from screens.history import Row
from screens.telling import mark, scope_name
from screens.widgets.coil import Coil
from screens.widgets.drawn import Drawn, brush, stroke
from screens.widgets.figure import Figure
from screens.widgets.state_mark import StateMark
from screens.widgets.text import Fitted, Words, line_height_px, width_px
from screens.words import say

# Rows of what has been done that are shown: the last ones, to see where one was.
ROWS = 4
_COIL_DP = 112.0
# A row of what has been done shrinks to this share at most; then it takes two lines.
_DONE_LEAST_SHARE = 0.85


class Head(Widget):
    """The tag, large; beside it the scope as it is said, its case, its mark, and which step of how many."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self.tag = Fitted("", step="shout", bold=True)
        self.name = Fitted("", step="title")
        self.place = Fitted("", step="detail", role="quiet", halign="right")
        self.case = Fitted("", step="detail", role="quiet")
        self.mark = StateMark()
        for widget in (self.tag, self.name, self.place, self.case, self.mark):
            self.add_widget(widget)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.mark.fbind("height", self._arrange)
        self.place.fbind("text", self._arrange)

    def tell(self, lane: Lane, ended: str, zone: str) -> None:
        """Show a scope; `ended` is the end of its procedure as RFC 3339, "" when unknown."""
        self.tag.text, self.name.text = lane.scope, scope_name(lane)
        self.place.text = say("steps.place", at=lane.position + 1, of=lane.length)
        words = say("steps.case_only", case=lane.cycle.case)
        if ended:
            words = say("steps.case", case=lane.cycle.case, time=f"{local(parse_wall(ended), zone):%H:%M}")
        if "delayed" in lane.cycle.flags:
            words += ", " + say("steps.delayed")
        self.case.text = words
        self.mark.kind = mark(lane)
        self.mark.opacity = 1

    def empty(self, tag: str) -> None:
        """Show a tag alone."""
        self.tag.text, self.mark.opacity = tag, 0
        self.name.text = self.place.text = self.case.text = ""

    def _arrange(self, *_: Any) -> None:
        column = min(dp(92), self.width * 0.28)
        wide = max(1.0, self.width - column)
        place = min(wide * 0.5, width_px(self.place.text, "detail") * 1.06 + dp(4))
        lines = self.name.height + self.case.height + self.mark.height
        self.height = max(self.tag.height, lines) + dp(6)
        top = self.y + self.height - dp(3)
        self.tag.width = column - dp(8)
        self.tag.pos = (self.x, top - self.tag.height)
        self.place.width = place
        self.place.pos = (self.x + self.width - place, top - self.name.height)
        self.name.width = max(1.0, wide - place - dp(4))
        self.name.pos = (self.x + column, top - self.name.height)
        self.case.width = wide
        self.case.pos = (self.x + column, self.name.y - self.case.height)
        self.mark.width = wide
        self.mark.pos = (self.x + column, self.case.y - self.mark.height)


class Running(Widget):
    """The coil of what runs, with its time beside it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self.coil = Coil(size_hint=(None, None))
        self.figure = Figure(step="shout")
        self.detail = Words("", step="body")
        for widget in (self.coil, self.figure, self.detail):
            self.add_widget(widget)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.detail.fbind("height", self._arrange)
        self.coil.fbind("state", self._arrange)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        wide = dp(_COIL_DP)
        high = wide + (line_height_px("mark") if self.coil.state == "over" else 0.0)
        self.coil.size = (wide, high)
        words = self.figure.height + self.detail.height
        self.height = max(high, words)
        left = self.x + wide + dp(16)
        room = max(1.0, self.x + self.width - left)
        self.coil.pos = (self.x, self.y + (self.height - high) / 2.0)
        self.figure.width = self.detail.width = room
        low = self.y + (self.height - words) / 2.0
        self.detail.pos = (left, low)
        self.figure.pos = (left, low + self.detail.height)

    def paint(self, role: str) -> None:
        """Show the time in the colour of a role."""
        self.figure.paint(role)


class Lines(BoxLayout):
    """A small heading with lines below, each with a dash drawn before it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, height=0, **kwargs)
        self._said: tuple[Any, ...] = ()
        self.bind(minimum_height=self.setter("height"))

    def tell(self, title: str, lines: Sequence[str], short: bool = False) -> None:
        """Show these lines; `short` runs them together in small type, where there is no room for more."""
        said = (title, tuple(lines), short)
        if said == self._said:
            return
        self._said = said
        self.clear_widgets()
        if short:
            self.add_widget(Words(f"{title}: {'; '.join(lines)}" if lines else "", step="mark", bold=True))
            return
        self.add_widget(Words(title, step="detail", role="quiet"))
        for line in lines:
            self.add_widget(_Dashed(line))


class _Dashed(Drawn):
    """One line of text after a drawn dash."""

    def __init__(self, text: str, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self._words = Words(text, step="body")
        self.add_widget(self._words)
        self._words.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def _arrange(self, *_: Any) -> None:
        self._words.width = max(1.0, self.width - dp(20))
        self._words.pos = (self.x + dp(20), self.y)
        self.height = self._words.height

    def draw(self) -> None:
        """Draw the dash at the first line."""
        brush("ink")
        y = self.far_y - line_height_px("body") / 2.0
        stroke([self.x + dp(2), y, self.x + dp(12), y], dp(2))


class Done(BoxLayout):
    """The last things done, one line each: when, what, how it came out."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, height=0, spacing=dp(2), **kwargs)
        self._said: tuple[Any, ...] = ()
        self._title = Words("", step="detail", role="quiet")
        self._lines: list[_DoneLine] = []
        self.bind(minimum_height=self.setter("height"))

    def tell(self, title: str, rows: Sequence[Row]) -> None:
        """Show the last of these rows."""
        last = rows[-ROWS:]
        said = (title, tuple(last))
        if said == self._said:
            return
        self._said = said
        self._title.text = title if last else ""
        while len(self._lines) < len(last):
            self._lines.append(_DoneLine())
        for line, row in zip(self._lines, last, strict=False):
            line.tell(row)
        wanted = [self._title, *self._lines[: len(last)]]
        if list(reversed(self.children)) != wanted:
            self.clear_widgets()
            for widget in wanted:
                self.add_widget(widget)


class _DoneLine(Widget):
    """One thing done, on one line; on two where its words would have to shrink too far for one."""

    def __init__(self) -> None:
        super().__init__(size_hint_y=None)
        self._time = Fitted("", step="detail", role="quiet")
        self._what = Fitted("", step="detail", bold=True)
        self._how = Fitted("", step="detail", role="quiet", halign="right")
        for label in (self._time, self._what, self._how):
            self.add_widget(label)
        for name in ("pos", "width"):
            self.fbind(name, self._arrange)

    def tell(self, row: Row) -> None:
        """Show this row; without an outcome what was done has the whole line."""
        self._time.text, self._what.text, self._how.text = row.time, row.what, row.how
        self._what.paint("over_text" if row.bad else "ink")
        self._how.paint("over_text" if row.bad else "quiet")
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        line, gap = line_height_px("body") + dp(4), dp(6)
        # Whole pixels: a label between two of them is drawn a pixel off.
        left = self.x + round(width_px("00:00", "detail") * 1.08 + dp(4)) + gap
        # Part by part: while a width is being set, Kivy's `right` and `top` still give those from before.
        right = self.x + self.width
        room = max(1.0, right - left)
        what, how = width_px(self._what.text, "detail", bold=True), width_px(self._how.text, "detail")
        needed = what + how + gap
        one = not how or needed * _DONE_LEAST_SHARE <= room
        self.height = line if one else 2 * line
        share = (what + gap / 2) / needed if how else 1.0
        upper = self.y + self.height - line
        part = round(share * room)
        start = left + part if one else left
        for label, x, y, width in (
            (self._time, self.x, upper, left - gap - self.x),
            (self._what, left, upper, part - round(gap / 2) if one and how else room),
            (self._how, start, upper if one else self.y, max(1.0, right - start)),
        ):
            label.width, label.pos = width, (x, y)
