"""A set of codes, one at a time as large as the screen allows, for the other handheld's scanner."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from screens.heading import Head
from screens.page import Page
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.code import Code
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class CodesPage(Page):
    """Shows code after code; the order does not matter, and any may be shown again."""

    with_tabs = False
    tab = "setup"

    def __init__(self, shell: Shell, words: str, texts: Sequence[str], **kwargs: Any) -> None:
        super().__init__(shell, **kwargs)
        self._texts, self._at, self._shown = list(texts), 0, -1
        self._head = Head("", back=shell.back)
        self._code = Code()
        before, after = (
            BigButton(say("codes.before"), look="plain", small=True),
            BigButton(say("codes.next"), small=True),
        )
        before.bind(on_command=lambda *_: self._turn(-1))
        after.bind(on_command=lambda *_: self._turn(1))
        for widget in (self._head, Words(words, role="quiet"), self._code):
            self.add_widget(widget)
        if len(self._texts) > 1:
            self.add_widget(ButtonRow([before, after]))

    def refresh(self) -> None:
        """Show which of how many it is."""
        self._head.set_words(say("codes.at", at=self._at + 1, of=len(self._texts)))
        if self._shown != self._at:
            self._shown = self._at
            self._code.tell(self._texts[self._at])

    def _turn(self, by: int) -> None:
        self._at = (self._at + by) % len(self._texts)
        self.refresh()
