"""Pages of practice: its start in Setup, and what its bar opens."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.heading import Head
from screens.page import Page
from screens.practice.clock import PACES
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.practice.trainer import Trainer
    from screens.shell import Shell


def pace_words(pace: int) -> str:
    """Promise a pace in words."""
    return say("practice.pace.real") if pace == 1 else say("practice.pace", times=pace)


class PracticeStart(Page):
    """What practice is, and a button for each pace; quiet while scopes are under way here."""

    key = "setup-practice"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        margin = dp(theme.MARGIN_DP)
        padding = (margin, dp(6), margin, dp(theme.GAP_DP))
        super().__init__(shell, padding=padding)
        self._not_now = Words("", role="over_text", bold=True)
        self._starts = [_pace_button(pace, self._start(pace)) for pace in PACES]
        leaves = Leaves()
        leaves.show([Words(say("practice.about"), step="body"), self._not_now, *self._starts])
        self.add_widget(Head(say("setup.practice"), back=shell.back))
        self.add_widget(leaves)

    def refresh(self) -> None:
        """Allow it only while no scope of the unit is under way on this handheld: its prompts would go unseen."""
        busy = bool(self.desk.unit.cycles)
        self._not_now.text = say("practice.not_now") if busy else ""
        for button in self._starts:
            button.disabled = busy or self.shell.practise is None

    def _start(self, pace: int) -> Callable[[], None]:
        def start() -> None:
            if self.shell.practise is not None:
                self.shell.practise(pace)

        return start


class PracticePage(Page):
    """Over a page of practice: go on, another pace, the end."""

    with_tabs = False

    def __init__(self, shell: Shell, trainer: Trainer) -> None:
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        leaves = Leaves()
        on = BigButton(say("practice.go_on"))
        on.bind(on_command=lambda *_: shell.close_over(self))
        end = BigButton(say("practice.end"), say("practice.end.under"), look="plain")
        end.bind(on_command=lambda *_: trainer.end())
        blocks: list[Widget] = [Words(say("practice.title"), step="headline", bold=True), on]
        blocks += [_pace_button(pace, lambda pace=pace: self._take(trainer, pace)) for pace in PACES]
        leaves.show([*blocks, end])
        self.add_widget(leaves)

    def _take(self, trainer: Trainer, pace: int) -> None:
        trainer.clock.pace = pace
        self.shell.close_over(self)


def _pace_button(pace: int, press: Callable[[], None]) -> BigButton:
    button = BigButton(pace_words(pace), say("practice.pace.under"), small=True, look="plain")
    button.bind(on_command=lambda *_: press())
    return button
