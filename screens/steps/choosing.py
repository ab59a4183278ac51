"""Pages over a scope's page: choosing a bath, a meter or a grade of water; and what can be wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.widget import Widget

from protocols.lane import Lane
from screens import theme
from screens.desk import Told
from screens.offer import Choice, Pick, wrongs_for
from screens.page import Page
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.split import Split
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


def _leave(shell: Shell) -> BigButton:
    button = BigButton(say("shell.back"), look="plain")
    button.bind(on_command=lambda *_: shell.back())
    return button


class PickPage(Page):
    """One tile for each pick; what may not be used now is listed with the reason, and can't be pressed."""

    with_tabs = False

    def __init__(self, shell: Shell, picks: Sequence[Pick], pick: Callable[[str, str], None]) -> None:
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        self._pick = pick
        leaves = Leaves()
        leaves.show([self._tile(p) for p in picks])
        title = Words(say("steps.which"), step="headline", bold=True)
        self.add_widget(Split(leaves, [title], [_leave(shell)], side=0.5))

    def _tile(self, pick: Pick) -> BigButton:
        look = "ink" if pick.chosen else "plain"
        # What takes no press needs no room for a thumb.
        small = bool(pick.why_not)
        tile = BigButton(pick.words, pick.why_not, small=small, look="plain" if small else look)
        tile.disabled = small

        def press(*_: Any) -> None:
            self.shell.close_over(self)
            self._pick(pick.name, pick.key)

        tile.bind(on_command=press)
        return tile


class WrongPage(Page):
    """What can be said about a scope when something is wrong. Each asks once more before it is given."""

    with_tabs = False

    def __init__(self, shell: Shell, lane: Lane, then: Callable[[Told], None]) -> None:
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        self._after = lane.cycle.last_seq
        self._then = then
        choices, typed = wrongs_for(self.desk.unit, lane)
        blocks: list[Widget] = [self._tile(choice) for choice in choices]
        for one in typed:
            tile = BigButton(one.words, look="plain")
            tile.bind(on_command=lambda *_, one=one: shell.type_value(one, self._after, self._told))
            blocks.append(tile)
        leaves = Leaves()
        leaves.show(blocks)
        title = Words(say("wrong.of", tag=lane.scope), step="headline", bold=True)
        self.add_widget(Split(leaves, [title], [_leave(shell)], side=0.5))

    def _tile(self, choice: Choice) -> BigButton:
        tile = BigButton(choice.words, choice.under, look="plain")
        tile.bind(on_command=lambda *_: self.shell.choose(choice, self._after, self._told))
        return tile

    def _told(self, told: Told) -> None:
        self.shell.close_over(self)
        self._then(told)
