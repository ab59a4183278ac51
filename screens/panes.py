"""The room of the pages: one page on a handheld, two beside each other on a tablet that lies on its side.

On a wide tablet the Bench stands at the left whatever page is open, so that who is next and what is over its limit is
always seen; the page that is open has the rest. A question or typing page has the room to itself, in a column that is
no wider than a hand can span.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.properties import BooleanProperty
from kivy.uix.boxlayout import BoxLayout

from screens.page import Page

# From this width on there is room for the Bench (as wide as on a handheld) beside a whole page. Own figures.
_WIDE_DP = 960.0
_BENCH_SHARE = 0.36
_BENCH_LEAST_DP = 400.0
# A page that asks something is no wider than this: its buttons stay within one span of the hands.
_ALONE_MOST_DP = 720.0


class Panes(BoxLayout):
    """Shows one page, or two; `wide` says whether there is room for two, and changes when the screen is turned."""

    wide = BooleanProperty(False)

    def __init__(self, page_of: Callable[[str], Page], home: str, beside_home: str, **kwargs: Any) -> None:
        """`home` is the key of the page that stands at the left, `beside_home` what is beside it while it is chosen."""
        super().__init__(orientation="horizontal", **kwargs)
        self._page_of, self._home, self._beside_home = page_of, home, beside_home
        self._whole = False
        # The page that was not chosen but stands there too.
        self._second: Page | None = None
        self._again = Clock.create_trigger(self._measure, -1)
        self.fbind("size", self._again)

    @property
    def pages(self) -> list[Page]:
        """Give what is shown, from left to right."""
        return list(reversed(self.children))

    def show(self, page: Page, alone: bool) -> None:
        """Show the page that was chosen, `alone` where it asks something; what is on the screen already stays there."""
        self._whole = page.whole
        wanted = [page]
        if self.wide and not alone:
            bench = self._page_of(self._home)
            wanted = [bench, self._page_of(self._beside_home) if page is bench else page]
        self._stand_by(next((one for one in wanted if one is not page), None), page)
        if self.pages != wanted:
            for child in list(self.children):
                self.remove_widget(child)
            for one in wanted:
                self.add_widget(one)
        self._share_out()

    def _stand_by(self, second: Page | None, page: Page) -> None:
        if second is self._second:
            return
        if self._second is not None and self._second is not page:
            self._second.left()
        self._second = second
        if second is not None:
            second.entered()

    def _measure(self, *_: Any) -> None:
        self.wide = self.width >= dp(_WIDE_DP) and self.width > self.height
        self._share_out()

    def _share_out(self) -> None:
        pages = self.pages
        if not pages:
            return
        alone = self.wide and len(pages) == 1 and not self._whole
        room = max(0.0, (self.width - dp(_ALONE_MOST_DP)) / 2.0) if alone else 0.0
        self.padding = (room, 0, room, 0)
        pages[-1].size_hint_x = 1
        if len(pages) == 2:
            pages[0].size_hint_x = None
            pages[0].width = max(dp(_BENCH_LEAST_DP), self.width * _BENCH_SHARE)
