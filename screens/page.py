"""A page: what fills the screen above the tabs. The shell shows one at a time and refreshes only that one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from screens import theme

if TYPE_CHECKING:
    from screens.shell import Shell


class Page(BoxLayout):
    """The root of one page, a column. Subclasses fill it once and set what changes in `refresh`.

    `key` is the name the shell goes by, `tab` the tab that is marked while the page is shown, `with_tabs` False for
    a page that needs the whole height, `whole` True for one that takes the whole width of a tablet as well, `locked`
    True for one that nothing from outside takes away. A page
    keeps its state while another is shown. Its margins are those of every page, `above_dp` at the top, unless `padding`
    gives others.
    """

    key = ""
    tab = "bench"
    with_tabs = True
    whole = False
    locked = False
    above_dp = 6.0

    def __init__(self, shell: Shell, **kwargs: Any) -> None:
        margin, gap = dp(theme.MARGIN_DP), dp(theme.GAP_DP)
        kwargs.setdefault("padding", (margin, dp(self.above_dp), margin, gap))
        kwargs.setdefault("spacing", gap)
        super().__init__(orientation="vertical", **kwargs)
        self.shell = shell
        self.desk = shell.desk

    def entered(self, **what: Any) -> None:
        """Take up what the page is to show; called before it is put on the screen. `refresh` follows."""

    def refresh(self) -> None:
        """Show everything as of now: called once a second while shown, and after every answer. Asks, never counts."""

    def left(self) -> None:
        """The page is no longer on the screen; what it holds stays for when it is entered again."""

    def back(self) -> bool:
        """Go one step back within the page; answer False when there is none, so that the shell leaves the page."""
        return False

    def unfinished(self) -> bool:
        """Say whether leaving would lose something half typed; the shell asks first then."""
        return False

    def scanned(self, text: str) -> bool:
        """Take a scanned text (keyboard text that ended in Enter); answer False to let the shell find its place."""
        return False
