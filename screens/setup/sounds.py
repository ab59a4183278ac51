"""The sound check: each call, the vibration and the voice, tried by a press; what this device can't do is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from screens.heading import Head
from screens.page import Page
from screens.senses.promise import LEVELS, Can, Level
from screens.senses.tones import CALLS
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


class SoundsPage(Page):
    """A button for each level of a call, in the notes of one scope; another scope by a press; then the other senses."""

    key = "setup-sounds"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._call = 0
        self._said = Words("", step="body", bold=True)
        self._scope = BigButton("", small=True, look="plain")
        self._scope.bind(on_command=lambda *_: self._next())
        levels = [self._button(f"sounds.{level}", self._play(level)) for level in LEVELS]
        others = [self._button("handheld.vibration", self._buzz), self._button("handheld.speech", self._speak)]
        about = Words(say("sounds.about"), step="detail", role="quiet")
        leaves = Leaves()
        rows = [ButtonRow(levels[:2]), ButtonRow(levels[2:]), ButtonRow(others)]
        leaves.show([self._said, self._scope, *rows, about], first=[self._said, self._scope])
        self.add_widget(Head(say("sounds.title"), back=shell.back))
        self.add_widget(leaves)

    def entered(self, **what: Any) -> None:
        """Say at once what can't work, before anything is pressed."""
        senses = self.shell.senses
        asked = [] if senses is None else [("chime", senses.chime), ("buzz", senses.buzz), ("speak", senses.speak)]
        cannot = [self._cannot(name, answer) for name, sense in asked if not (answer := sense.can())]
        self._said.text = ". ".join(cannot) if cannot else say("sounds.all")
        self._said.paint("over_text" if cannot else "ink")

    def refresh(self) -> None:
        """Name the scope whose call is tried."""
        tags = list(self.desk.unit.scopes)
        whose = (
            say("sounds.of", tag=tags[self._call]) if self._call < len(tags) else say("sounds.call", at=self._call + 1)
        )
        self._scope.set_words(whose, say("sounds.next"))

    def _next(self) -> None:
        self._call = (self._call + 1) % max(1, min(CALLS, len(self.desk.unit.scopes)))
        self.refresh()

    def _button(self, words: str, press: Callable[[], None]) -> BigButton:
        button = BigButton(say(words), small=True, look="plain")
        button.bind(on_command=lambda *_: press())
        return button

    def _play(self, level: Level) -> Callable[[], None]:
        def play() -> None:
            if self.shell.senses is not None:
                self._tell("chime", self.shell.senses.chime.play(self._call, level))

        return play

    def _buzz(self) -> None:
        if self.shell.senses is not None:
            self._tell("buzz", self.shell.senses.buzz.play("ready"))

    def _speak(self) -> None:
        if self.shell.senses is not None:
            self._tell("speak", self.shell.senses.speak.say("sound-check", say("sounds.spoken"), "ready"))

    def _tell(self, sense: str, answer: Can) -> None:
        """Say what came of a press; that the device took it is no proof that it was heard."""
        self._said.text = say(f"sounds.done.{sense}") if answer else self._cannot(sense, answer)
        self._said.paint("ink" if answer else "over_text")

    def _cannot(self, sense: str, answer: Can) -> str:
        return say("sense.cannot", sense=say(f"sense.{sense}"), why=say(answer.why))
