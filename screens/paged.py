"""One page at a time over the tabs, and the way back: what the shell is besides its commands and its clock.

Back never gives a command and never loses a half-typed value unasked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp, sp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.page import Page
from screens.panes import Panes
from screens.strip import Strip
from screens.widgets.split import free, on_its_side
from screens.widgets.still import Still
from screens.widgets.tabs import Tabs
from screens.words import say

HOME = "bench"
# What a wide tablet shows beside the Bench while that is the page chosen.
BESIDE_HOME = "watch"
# On a screen lower than this (dp, at normal type size) an answer takes the place of the tabs while it shows:
# with both there would be too little left of the page. Own figure.
_CRAMPED_DP = 560.0


class Paged(BoxLayout):
    """The root of the app as far as pages go. `makers` gives each page by its key; pages are built when first shown.

    `tabs` are the keys of the pages that have a tab, in order.
    """

    def __init__(self, makers: Mapping[str, Callable[[Any], Page]], tabs: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(orientation="vertical", **kwargs)
        self._makers = dict(makers)
        self._pages: dict[str, Page] = {}
        self._path: list[str] = []
        self._over: list[Page] = []
        self._page: Page | None = None
        self.strip = Strip()
        self.tabs = Tabs([(key, say(f"tab.{key}")) for key in tabs])
        self.tabs.bind(on_choose=lambda _, key: self.go(key))
        self._room = Panes(self.page_of, HOME, BESIDE_HOME)
        self._room.fbind("wide", lambda *_: self._show())
        # The tabs stand below the page, or beside it where the screen is low.
        self._column = BoxLayout(orientation="vertical")
        self._column.add_widget(self._room)
        self._foot = Still(self.tabs, ground="rail")
        self._beside = BoxLayout(orientation="horizontal")
        self._beside.add_widget(self._column)
        self.add_widget(self._beside)
        self._with_tabs = True
        self._turned = Clock.create_trigger(self._put_tabs, -1)
        self.fbind("size", self._turned)
        self.strip.fbind("height", self._turned)
        self._put_tabs()

    def _put_tabs(self, *_: Any) -> None:
        """Put strip and tabs where they belong as the handheld is held now, or take them away."""
        known = self.height > dp(100)  # Kivy's size of every widget before it is laid out
        low = on_its_side(self.width, self.height)
        cramped = known and self.height < dp(_CRAMPED_DP) * sp(1) / dp(1)
        self.strip.tight = low
        strip = self._column if self._with_tabs else None
        tabs = None if cramped and self.strip.words else self._beside if low else strip
        tabs = tabs if self._with_tabs else None
        if self._foot.parent is tabs and self.strip.parent is strip:
            return
        for widget in (self.strip, self._foot):
            free(widget)
        self.tabs.upright = low
        self._foot.size_hint = tuple(self.tabs.size_hint)
        if low:
            self._foot.width = self.tabs.width
        else:
            self._foot.height = self.tabs.height
        self._beside.spacing = dp(theme.GAP_DP) if low and tabs is not None else 0
        if strip is not None:
            strip.add_widget(self.strip)
        if tabs is not None:
            tabs.add_widget(self._foot, index=len(tabs.children) if low else 0)

    def look(self) -> None:
        """Refresh the page shown."""
        raise NotImplementedError(f"{type(self).__name__} does not say how it looks")

    def enter(self, page: Page, what: Mapping[str, Any]) -> None:
        """Let a page take up what it is to show."""
        page.entered(**what)

    @property
    def page(self) -> Page | None:
        """Give the page on the screen, a question or typing page included."""
        return self._over[-1] if self._over else self._page

    def page_of(self, key: str) -> Page:
        """Give the page of a key, built if it was never shown."""
        if key not in self._pages:
            self._pages[key] = self._makers[key](self)
        return self._pages[key]

    def go(self, key: str, **what: Any) -> None:
        """Show the page of a key with what it is to show; asks first where something half typed would be lost.

        Nothing is shown over or instead of a locked page, whoever asks.
        """
        top = self.page
        if top is not None and top.locked:
            return
        # Going takes away whatever lies under a question as well, such as the form that it was asked for.
        if any(page.unfinished() for page in (self._page, *self._over) if page is not None):
            self.confirm(say("shell.lose"), say("shell.leave"), lambda: self._leave_for(key, what), say("shell.stay"))
        else:
            self._leave_for(key, what)

    def _leave_for(self, key: str, what: Mapping[str, Any]) -> None:
        self._over.clear()
        if self._page is not None:
            self._page.left()
        if key in self._path:
            del self._path[self._path.index(key) :]
        if key == HOME:
            self._path.clear()
        self._path.append(key)
        self._page = self.page_of(key)
        self.enter(self._page, what)
        self._show()

    def back(self) -> bool:
        """Go one step back: out of a question or typing page, within a page, to the page before. Gives no command."""
        top = self.page
        if top is not None and top.back():
            self.look()
            return True
        if top is not None and top.unfinished():
            self.confirm(say("shell.lose"), say("shell.leave"), self._step_back, say("shell.stay"))
        else:
            self._step_back()
        return True

    def _step_back(self) -> None:
        if self._over:
            self._over.pop()
            self._show()
            return
        before = self._path[-2] if len(self._path) > 1 else HOME
        del self._path[-1:]
        self._leave_for(before, {})

    def over(self, page: Page) -> None:
        """Put a question or typing page over the page shown, unless that is locked; it ends with `close_over`."""
        if self.page is not None and self.page.locked:
            return
        self._over.append(page)
        self._show()

    def close_over(self, page: Page) -> None:
        """Take a question or typing page away, and whatever was put over it."""
        if page in self._over:
            del self._over[self._over.index(page) :]
            self._show()

    @property
    def asks(self) -> bool:
        """Say whether a question or typing page is open."""
        return bool(self._over)

    def put_over_all(self, bar: Widget) -> None:
        """Put a bar above every page, for as long as the shell lives."""
        room = BoxLayout(size_hint_y=None, padding=(0, 0, 0, dp(4)))
        room.add_widget(bar)
        room.bind(minimum_height=room.setter("height"))
        self._column.add_widget(room, index=len(self._column.children))

    def _show(self) -> None:
        page = self.page
        if page is None:
            return
        self._room.show(page, alone=bool(self._over))
        self.tabs.chosen = page.tab
        self._with_tabs = page.with_tabs
        self._put_tabs()
        self.look()

    def ask_text(self, words: str, kind: str, then: Callable[[Any], None], unit: str = "", start: str = "") -> None:
        """Show the typing page; `kind` is number, minutes, text, tag or name. `then` gets the value once, when done.

        A number comes as int or float, minutes as seconds, everything else as text without spaces around it.
        """
        from screens.asking import TypePage  # with its keys; a start does not wait for them

        self.over(TypePage(self, words, kind, then, unit, start))

    def confirm(self, words: str, yes: str, then: Callable[[], object], no: str = "") -> None:
        """Ask once more before something serious; `then` is called only for yes."""
        from screens.asking import AskPage

        self.over(AskPage(self, words, yes, then, no))
