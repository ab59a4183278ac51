"""The week at a glance: its figures, and charts that tell a real change from noise. Read off the screen's thread."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from data.disk import Disk
from data.week import WeekFigures, week_figures
from protocols.charts import POINTS_MIN
from screens import theme
from screens.background import Background
from screens.heading import Head, Titled, under
from screens.page import Page
from screens.posting import on_screen
from screens.watch.control_chart import ControlChart
from screens.watch.week_words import chart_says, chart_title, counts, family_lines, forecasts, lates, refusals
from screens.widgets.button import BigButton
from screens.widgets.card import Card
from screens.widgets.leaves import Leaves
from screens.widgets.text import Fitted, Words, line_height_px
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class Row(BoxLayout):
    """One figure: its name, and the figure at the right edge."""

    def __init__(self, name: str, value: str) -> None:
        super().__init__(orientation="horizontal", size_hint_y=None, spacing=dp(theme.GAP_DP))
        words = Words(name, step="detail", size_hint_x=0.62)
        figure = Fitted(value, step="detail", bold=True, halign="right", size_hint_x=0.38)
        self.height = max(words.height, line_height_px("detail"))
        words.fbind("height", lambda *_: setattr(self, "height", max(words.height, line_height_px("detail"))))
        self.add_widget(words)
        self.add_widget(figure)


class ChartBlock(BoxLayout):
    """A chart under its title, with what it says below."""

    def __init__(self) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, spacing=dp(2))
        self.bind(minimum_height=self.setter("height"))
        self.title = Words("", step="detail", bold=True)
        self.chart = ControlChart()
        self.says = Words("", step="detail", role="quiet")
        for widget in (self.title, self.chart, self.says):
            self.add_widget(widget)


class WeekPage(Page):
    """One week; the two keys at the top go to the week before and after."""

    key = "watch-week"
    tab = "watch"

    def __init__(self, shell: Shell, disk: Disk) -> None:
        super().__init__(shell)
        self._disk = disk
        self.week = ""
        self._read_at: tuple[str, int] = ("", -1)
        self.background = Background("week", on_screen)
        self._head = Head("", back=shell.back)
        self._before, self._after = (
            BigButton(say(f"week.{name}"), small=True, look="plain") for name in ("before", "after")
        )
        self._turns = BoxLayout(size_hint_y=None, height=dp(theme.TARGET_OTHER_DP), spacing=dp(theme.GAP_DP))
        for key, by in ((self._before, -1), (self._after, 1)):
            key.bind(on_command=lambda *_, by=by: self._turn(by))
            self._turns.add_widget(key)
        self._leaves = Leaves()
        for widget in (self._head, self._leaves):
            self.add_widget(widget)

    def entered(self, **what: Any) -> None:
        """Show the newest week, or the one asked for."""
        weeks = self.desk.door.journal.segments()
        self.week = what.get("week") or (weeks[-1] if weeks else "")
        self._read()

    def refresh(self) -> None:
        """Show which week it is; the figures change only when it is entered or turned."""
        weeks = self.desk.door.journal.segments()
        title = "week.title_open" if weeks and self.week == weeks[-1] else "week.title"
        self._head.set_words(say(title, week=self.week), say("week.reading") if self.background.busy else "")

        if (len(weeks) > 1) != (self._turns.parent is not None):
            if len(weeks) > 1:
                self.add_widget(self._turns, 1)
            else:
                self.remove_widget(self._turns)
        self._before.disabled = not weeks or self.week == weeks[0]
        self._after.disabled = not weeks or self.week == weeks[-1]

    def _turn(self, by: int) -> None:
        weeks = self.desk.door.journal.segments()
        at = weeks.index(self.week) + by if self.week in weeks else len(weeks) - 1
        if 0 <= at < len(weeks):
            self.week = weeks[at]
            self._read()
            self.shell.look()

    def _read(self) -> None:
        wanted = (self.week, self.desk.door.journal.head[0])
        if not self.week or wanted == self._read_at:
            return
        self._read_at = wanted
        week, disk, journal = self.week, self._disk, self.desk.door.journal
        self._leaves.show([])
        self.background.run(lambda: week_figures(disk, journal, week), lambda answer: self._came(week, answer))

    def _came(self, week: str, answer: Any) -> None:
        if week != self.week:
            return
        if not isinstance(answer, WeekFigures):
            self._read_at = ("", -1)
            self._leaves.show([Words(say("week.fault", why=answer), role="over_text")])
        elif not answer.cycles:
            self._leaves.show([Words(say("week.no_cycles"), role="quiet")])
        else:
            self._leaves.show(self._blocks(answer))
        self._leaves.to_top()
        self.refresh()

    def _blocks(self, figures: WeekFigures) -> list[Widget]:
        found: list[Widget] = []
        for one in figures.families:
            card = Card(leads=False)
            card.tell("", "", one.name, "", family_lines(one))
            found.append(card)
        for title, rows in (
            ("week.counts", counts(figures)), ("week.lates", lates(figures)), ("week.forecasts", forecasts(figures)),
            ("week.refusals", refusals(figures)),
        ):  # fmt: skip
            found += under(Titled(say(title)), [Row(*row) for row in rows or [(say("week.none"), "")]])
        if not figures.charts:
            return [*found, Words(say("week.few", count=POINTS_MIN), role="quiet")]
        return [*found, *(self._chart(figures, number) for number in range(len(figures.charts)))]

    def _chart(self, figures: WeekFigures, number: int) -> ChartBlock:
        one, block = figures.charts[number], ChartBlock()
        block.title.text = chart_title(one)
        block.says.text = chart_says(one, self.desk.unit.settings.zone)
        block.says.paint("over_text" if one.unusual else "quiet")
        block.chart.tell(one)
        return block
