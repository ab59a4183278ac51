"""Typing what needs every sign there is, an address, a name or a password, on planes of large keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.page import Page
from screens.widgets.button import BigButton
from screens.widgets.card import SideKey
from screens.widgets.key_room import KeyRoom, row
from screens.widgets.keypad import Keypad
from screens.widgets.keypad_keys import PLANES, Kind
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_LONGEST = 200


class AnyTextPage(Page):
    """What is typed so far over a row of planes and the keys of one; `then` gets the text once, when done.

    A `secret` is shown as stars and never taken from a scan.
    """

    with_tabs = False

    def __init__(
        self, shell: Shell, words: str, then: Callable[[str], None], start: str = "", secret: bool = False,
        plane: Kind = "small",
    ) -> None:  # fmt: skip
        super().__init__(shell, padding=dp(theme.MARGIN_DP))
        self._then, self._start, self._secret = then, start, secret
        self._shown = Words("", step="title", bold=True)
        self._keypad = Keypad(kind=plane, longest=_LONGEST, text=start)
        self._keypad.bind(on_typed=lambda *_: self.refresh(), on_done=lambda _, text: self._done(text))
        self._planes = {name: SideKey(say(f"plane.{name}"), size_hint_x=1) for name in PLANES}
        self.leave = BigButton(say("shell.back"), small=True, look="plain")
        self.leave.bind(on_command=lambda *_: shell.back())
        for name, key in self._planes.items():
            key.bind(on_command=self._chooser(name))
        self._asked = Words(words, step="body", role="quiet")
        self.add_widget(KeyRoom(self._keypad, self._lay))

    def _lay(self, low: bool) -> tuple[Sequence[Widget], Sequence[Widget]]:
        keys = (self.leave, *self._planes.values())
        self.leave.size_hint_x = 1 if low else 1.3
        if low:
            return [*keys, Widget()], [self._asked, self._shown, Widget(), self._keypad]
        return [], [self._asked, self._shown, Widget(), row(*keys), self._keypad]

    def refresh(self) -> None:
        """Show what is typed and which plane is open."""
        text = self._keypad.text
        self._shown.text = ("*" * len(text) if self._secret else text) or "…"
        for name, key in self._planes.items():
            key.set_words(say(f"plane.{name}"), self._keypad.kind == name)

    def unfinished(self) -> bool:
        """Say whether something was typed."""
        return bool(self._keypad.text) and self._keypad.text != self._start

    def scanned(self, text: str) -> bool:
        """A scan is typed whole, and done; nobody scans a password by accident."""
        if self._secret:
            return True
        self._done(text)
        return True

    def _chooser(self, name: Kind) -> Callable[..., None]:
        def choose(*_: Any) -> None:
            self._keypad.kind = name
            self.refresh()

        return choose

    def _done(self, text: str) -> None:
        if not self._secret:
            text = text.strip()
        if not text or text == self._start == "https://":
            return
        self.shell.close_over(self)
        self._then(text)
