"""The page of a record that can't go on: what is wrong, where, what to do. It gives no command."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from data.read_only import ReadOnlyDoor
from protocols.errors import BasinbellError, ClockError, HomeBusy, RecordDamaged, RecordTooNew
from screens import theme
from screens.background import Background
from screens.moments import day_and_time
from screens.page import Page
from screens.posting import on_screen
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_HASH = re.compile(r"\b([0-9a-f]{12})[0-9a-f]{8,}\b")
_KINDS = ((RecordDamaged, "damaged"), (RecordTooNew, "too_new"), (HomeBusy, "busy"), (ClockError, "clock"))


def kind_of(error: BasinbellError) -> str:
    """Promise which trouble an error is, as its words are named; a disk that fails is the rest."""
    return next((name for kind, name in _KINDS if isinstance(error, kind)), "disk")


def readable(text: str) -> str:
    """Promise the text with its hashes cut short: whole ones have no place to break on a screen."""
    return _HASH.sub(r"\1…", text)


class TroubleWords(BoxLayout):
    """All the words of one trouble, a screenful at a time."""

    def __init__(self, error: BasinbellError, home: str, as_of: str = "") -> None:
        super().__init__(orientation="vertical", spacing=dp(theme.GAP_DP))
        kind = kind_of(error)
        self._leaves = Leaves()
        self._blocks: list[Widget] = [
            Words(say(f"trouble.{kind}"), step="headline", role="over_text", bold=True),
            Words(say(f"trouble.{kind}.what"), step="title", bold=True),
        ]
        if as_of:
            self._blocks.append(Words(say("trouble.as_of", when=as_of), step="title"))
        self._blocks.append(Words(say("trouble.todo"), step="body", role="quiet"))
        self._blocks.append(Words(say(f"trouble.{kind}.todo"), step="title"))
        self._blocks.append(Words(say("trouble.where"), step="body", role="quiet"))
        self._blocks.append(Words(readable(str(error)), step="body"))
        self._home = Words(say("trouble.home", home=home), step="detail", role="quiet")
        self.add_widget(self._leaves)
        self.name_missing([])

    def name_missing(self, missing: Sequence[str]) -> None:
        """Show these places below the first one."""
        more = [Words(readable(what), step="body") for what in missing]
        self._leaves.show([*self._blocks, *more, self._home], first=self._blocks[:2])


class TroublePage(Page):
    """The words on a page of the shell, beside the Watch and the Ledger of what can be read."""

    key = "bench"
    tab = "bench"

    def __init__(self, shell: Shell, door: ReadOnlyDoor, error: BasinbellError, home: str) -> None:
        margin = dp(theme.MARGIN_DP)
        super().__init__(shell, padding=(margin, margin, margin, dp(theme.GAP_DP)), spacing=0)
        self._door = door
        as_of = day_and_time(door.as_of_ms, door.unit.settings.zone) if door.as_of_ms else ""
        self.words = TroubleWords(error, home, as_of)
        self.add_widget(self.words)
        self._told = [what for what in door.missing if str(error) not in what]
        self.words.name_missing(self._told)
        # The whole record may take minutes to look through.
        self.background = Background("trouble", on_screen)
        self.background.run(door.look_for_more, self._found)

    def _found(self, more: list[str] | BasinbellError) -> None:
        found = [str(more)] if isinstance(more, BasinbellError) else more
        self.words.name_missing([*self._told, *found])
