"""Kivy's frame around a record that can't go on: nothing calls, is given, sent or written."""

from __future__ import annotations

from typing import Any

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from data.disk import Disk
from data.opening import shipped_shelf
from data.read_only import ReadOnlyDoor
from protocols.errors import BasinbellError, RecordDamaged, RecordTooNew
from screens import theme
from screens.desk import Desk
from screens.lead_pages import lead_pages
from screens.posting import on_screen
from screens.send.sending import Sending
from screens.setup.preferences import load, look_as
from screens.shell import Shell
from screens.trouble.page import TroublePage, TroubleWords
from screens.words import say

# What only reads; notes and releases on these pages are refused like every command.
_READING = ("watch", "watch-week", "ledger", "cycle")


def trouble_shell(disk: Disk, error: BasinbellError, home: str) -> Shell:
    """Promise a shell with the page of the trouble, and the Watch and the Ledger of what can be read."""
    door: Any = ReadOnlyDoor(disk, shipped_shelf())
    desk = Desk(door)
    sending = Sending(door.disk, door, on_screen)
    pages = lead_pages(door.disk, lambda preferences: None, sending)
    makers = {key: pages[key] for key in _READING}
    shell = Shell(desk, {"bench": lambda made: TroublePage(made, door, error, home), **makers}, _TABS)
    shell.tabs.set_words("bench", say("tab.trouble"))
    return shell


_TABS = ("bench", "watch", "ledger")


class TroubleApp(App):
    """Shows the trouble until it is closed."""

    title = "Basinbell"

    def __init__(self, disk: Disk, error: BasinbellError, home: str, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._disk, self._error, self._home = disk, error, home
        look_as(load(disk))

    def build(self) -> Widget:
        """Give the root to Kivy: a shell where something can be read, else the words alone."""
        Window.clearcolor = theme.rgba("ground")
        if isinstance(self._error, RecordDamaged | RecordTooNew):
            shell = trouble_shell(self._disk, self._error, self._home)
            shell.go("bench")
            self._tick = Clock.schedule_interval(lambda _: shell.look(), 1.0)
            return shell
        alone = BoxLayout(padding=dp(theme.MARGIN_DP))
        alone.add_widget(TroubleWords(self._error, self._home))
        return alone
