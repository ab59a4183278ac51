"""What this handheld keeps for itself: theme, language, sounds, speech, vibration."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from data.disk import Disk
from protocols.errors import DiskError
from screens import languages, theme
from screens.desk import Told
from screens.heading import Head
from screens.page import Page
from screens.setup.preferences import Preferences, load, save
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.widgets.text import Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_SWITCHES = ("sounds", "speech", "vibration")
Apply = Callable[[Preferences], None]


class HandheldPage(Page):
    """A row for each choice; pressing one changes it at once. `apply` makes the app follow, and may rebuild pages."""

    key = "setup-handheld"
    tab = "setup"

    def __init__(self, shell: Shell, disk: Disk, apply: Apply) -> None:
        super().__init__(shell)
        self._disk = disk
        self._apply = apply
        self._preferences = load(disk)
        self._theme = BigButton("", small=True, look="plain")
        self._theme.bind(on_command=lambda *_: self._next_theme())
        self._language = BigButton("", small=True, look="plain")
        self._language.bind(on_command=lambda *_: self._next_language())
        self._switches = {name: BigButton("", small=True, look="plain") for name in _SWITCHES}
        for name, button in self._switches.items():
            button.bind(on_command=self._switcher(name))
        leaves = Leaves()
        note = Words(say("handheld.local"), step="detail", role="quiet")
        rows = [self._theme, self._language, *self._switches.values()]
        self._alarms = BigButton("", small=True, look="plain")
        self._alarms.bind(on_command=lambda *_: self._allow())
        if shell.alarms is not None:
            rows.append(self._alarms)
        sounds = BigButton(say("sounds.title"), say("sounds.under"), small=True, look="plain")
        sounds.bind(on_command=lambda *_: shell.go("setup-sounds"))
        leaves.show([*rows, sounds, note])
        self.add_widget(Head(say("handheld.title"), back=shell.back))
        self.add_widget(leaves)

    def refresh(self) -> None:
        """Show what is chosen."""
        chosen = say(f"handheld.theme.{self._preferences.theme}")
        self._theme.set_words(say("handheld.row", what=say("handheld.theme"), state=chosen), say("handheld.change"))
        name = languages.NAMES[self._preferences.language]
        self._language.set_words(say("handheld.row", what=say("handheld.language"), state=name), say("handheld.change"))
        for name, button in self._switches.items():
            state = say("handheld.on") if getattr(self._preferences, name) else say("handheld.off")
            words = say("handheld.row", what=say(f"handheld.{name}"), state=state)
            button.set_words(words, say("handheld.change"))

        if self.shell.alarms is not None:
            can = self.shell.alarms.can()
            state = say("alarms.allowed") if can else say("alarms.missing")
            self._alarms.set_words(
                say("handheld.row", what=say("alarms.row"), state=state), say("handheld.change") if not can else ""
            )

    def _allow(self) -> None:
        """Say why, then open the device's own settings; on the way back the app looks again."""
        alarms = self.shell.alarms
        if alarms is not None and not alarms.can():
            self.shell.confirm(say("alarms.ask"), say("alarms.allow"), alarms.ask, say("alarms.later"))

    def _next_theme(self) -> None:
        names = list(theme.THEMES)
        now = names.index(self._preferences.theme)
        self._change(replace(self._preferences, theme=names[(now + 1) % len(names)]))

    def _next_language(self) -> None:
        codes = list(languages.NAMES)
        now = codes.index(self._preferences.language)
        self._change(replace(self._preferences, language=codes[(now + 1) % len(codes)]))

    def _switcher(self, name: str) -> Callable[..., None]:
        return lambda *_: self._change(replace(self._preferences, **{name: not getattr(self._preferences, name)}))

    def _change(self, preferences: Preferences) -> None:
        # Whether alarms were asked for is kept by whoever asks, perhaps since this page was made.
        self._preferences = preferences = replace(preferences, alarms_asked=load(self._disk).alarms_asked)
        try:
            save(self._disk, preferences)
        except DiskError as error:
            self.shell.tell(Told(False, say("handheld.not_kept", why=error)))
        self.refresh()
        self._apply(preferences)
