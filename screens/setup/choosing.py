"""Pages put over a form: choosing one of several, and giving a date on large keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.widget import Widget

from protocols.clock import local_date, parse_date
from protocols.errors import CommandFault
from screens.heading import Head
from screens.moments import full_day_words
from screens.page import Page
from screens.widgets.button import BigButton
from screens.widgets.card import SideKey
from screens.widgets.key_room import KeyRoom, row
from screens.widgets.keypad import Keypad
from screens.widgets.leaves import Leaves
from screens.widgets.text import Fitted, Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_DIGITS = 6
# Expiry dates of what is in use lie in this century; only its last two figures are typed.
_CENTURY = "20"


@dataclass(frozen=True, slots=True)
class Option:
    """One of several to choose: `why_not` names what forbids it, "" when it may be chosen."""

    key: str
    words: str
    under: str = ""
    why_not: str = ""


class ChoosePage(Page):
    """Tiles, those that may be chosen first; a tile that may not says why. `then` gets the key chosen."""

    with_tabs = False

    def __init__(
        self, shell: Shell, words: str, options: Sequence[Option], then: Callable[[str], None], **kwargs: Any
    ) -> None:
        super().__init__(shell, **kwargs)
        self._then = then
        leaves = Leaves()
        ordered = [*(o for o in options if not o.why_not), *(o for o in options if o.why_not)]
        leaves.show([Words(words, step="title", bold=True), *(self._tile(option) for option in ordered)])
        self.add_widget(Head("", back=shell.back))
        self.add_widget(leaves)

    def _tile(self, option: Option) -> BigButton:
        tile = BigButton(option.words, option.why_not or option.under, small=True, look="plain")
        tile.disabled = bool(option.why_not)
        tile.bind(on_command=lambda *_: self._choose(option.key))
        return tile

    def _choose(self, key: str) -> None:
        self.shell.close_over(self)
        self._then(key)


class DatePage(Page):
    """A date on large figure keys, read back in words before it is taken. `then` gets it as YYYY-MM-DD."""

    with_tabs = False

    def __init__(self, shell: Shell, words: str, then: Callable[[str], None], recent: bool) -> None:
        super().__init__(shell)
        self._then = then
        self._keypad = Keypad(kind="figures", longest=_DIGITS)
        self._keypad.bind(on_typed=lambda *_: self._typed(), on_done=lambda *_: self._done())
        self._shown = Fitted("", step="headline", bold=True, halign="center")
        self._hint = Words(say("date.hint"), step="title", halign="center")
        back = SideKey(say("shell.back"), width=dp(76))
        back.bind(on_command=lambda *_: shell.back())
        near = [self._near(0, "date.today"), self._near(1, "date.yesterday")] if recent else [Widget()]
        # Back and the near days share one row: with the keys below, a small screen has no room for two.
        self._read = [row(back, *near), Words(words, step="title", bold=True), self._shown, self._hint]
        self.add_widget(KeyRoom(self._keypad, self._lay))
        self._typed()

    def _lay(self, low: bool) -> tuple[Sequence[Widget], Sequence[Widget]]:
        if low:
            return [*self._read, Widget()], [Widget(), self._keypad]
        return [], [*self._read, Widget(), self._keypad]

    def unfinished(self) -> bool:
        """Say whether some figures were typed."""
        return bool(self._keypad.text)

    def scanned(self, text: str) -> bool:
        """A date may be scanned where a label carries one."""
        try:
            parse_date(text)
        except CommandFault:
            self._hint.text = say("date.not_one", text=text)
            return True
        self._take(text)
        return True

    def _near(self, days_ago: int, key: str) -> SideKey:
        def take(*_: Any) -> None:
            # Asked when pressed: the page may have stood here over midnight.
            today = local_date(self.desk.now().wall_ms, self.desk.unit.settings.zone)
            self._take((today - timedelta(days=days_ago)).isoformat())

        button = SideKey(say(key), size_hint_x=1)
        button.bind(on_command=take)
        return button

    def _typed(self) -> None:
        digits = "".join(char for char in self._keypad.text if char.isdigit())
        if digits != self._keypad.text:
            self._keypad.text = digits
        filled = digits.ljust(_DIGITS, "_")
        self._shown.text = f"{_CENTURY}{filled[:2]}-{filled[2:4]}-{filled[4:]}"
        day = self._day()
        if day is not None:
            self._hint.text = say("date.take", day=full_day_words(day))
        elif len(digits) == _DIGITS:
            self._hint.text = say("date.not_one", text=self._shown.text)
        else:
            self._hint.text = say("date.hint")

    def _day(self) -> date | None:
        try:
            return parse_date(self._shown.text)
        except CommandFault:
            return None

    def _done(self) -> None:
        if self._day() is None:
            self._hint.text = say("date.not_one", text=self._shown.text)
        else:
            self._take(self._shown.text)

    def _take(self, text: str) -> None:
        self.shell.close_over(self)
        self._then(text)
