"""Parts of the Bench: the heading with who works here, the card of the one thing to do now, an empty bench."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import OptionProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.button import BigButton
from screens.widgets.card import SideKey
from screens.widgets.drawn import Drawn, brush, card, outline
from screens.widgets.figure import Figure
from screens.widgets.press import Pressable
from screens.widgets.state_mark import StateMark
from screens.widgets.text import Fitted, Words, line_height_px
from screens.words import say

# Narrower than this the heading of the Bench takes two rows. Own figure.
_NARROW_DP = 300.0
_ROLES = {
    # level: (ground, words, quiet words, look of the button)
    "over": ("over", "over_ink", "over_ink", "on_over"),
    "ready": ("ready", "ready_ink", "ready_ink", "on_ready"),
    "calm": ("panel", "ink", "quiet", "act"),
}


class PersonButton(Pressable, Drawn):
    """Who works here, and the time of day; pressing it changes the person."""

    redraw_on = ("held",)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._name = Fitted("", step="body", bold=True, halign="right")
        self._how = Fitted("", step="mark", role="quiet", halign="right")
        for label in (self._name, self._how):
            self.add_widget(label)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def tell(self, name: str, how: str) -> None:
        """Show the name of the person and that pressing changes it."""
        self._name.text, self._how.text = name, how

    def _arrange(self, *_: Any) -> None:
        pad = dp(10)
        low = self.mid_y - (self._name.height + self._how.height) / 2.0
        for label, y in ((self._how, low), (self._name, low + self._how.height)):
            label.width = max(1.0, self.width - 2 * pad)
            label.pos = (self.x + pad, y)

    def draw(self) -> None:
        """Draw the outline of a button."""
        brush("ink" if self.held else "rule")
        thick = dp(3 if self.held else theme.RULE_DP)
        outline(self.x, self.y, self.width, self.height, dp(10), thick)


class Heading(BoxLayout):
    """The page's name with the time of day, the unit below, and who works here."""

    def __init__(self, title: str, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, spacing=dp(theme.GAP_DP), **kwargs)
        self._row_px = max(dp(theme.TARGET_OTHER_DP), line_height_px("headline") + line_height_px("mark"))
        self._left = left = BoxLayout(orientation="vertical")
        self._keys = BoxLayout(spacing=dp(theme.GAP_DP))
        self.time = Figure(step="headline", bold=False)
        self.unit = Fitted("", step="mark", role="quiet")
        upper = BoxLayout(size_hint_y=None, height=line_height_px("headline"), spacing=dp(theme.GAP_DP))
        upper.add_widget(Fitted(title, step="headline", bold=True))
        upper.add_widget(self.time)
        for widget in (Widget(), upper, self.unit, Widget()):
            left.add_widget(widget)
        self.person = PersonButton()
        self.wipe = SideKey(say("wipe.key"), width=dp(theme.TARGET_OTHER_DP))
        for widget in (self.wipe, self.person):
            self._keys.add_widget(widget)
        for widget in (left, self._keys):
            self.add_widget(widget)
        self.fbind("width", self._stand)
        self._stand()

    def _stand(self, *_: Any) -> None:
        """Beside the lanes of a low screen there is no width for all in one row."""
        narrow = 100 < self.width < dp(_NARROW_DP)
        self.orientation = "vertical" if narrow else "horizontal"
        self.height = 2 * self._row_px + dp(theme.GAP_DP) if narrow else self._row_px
        taken = self.wipe.width + 2 * dp(theme.GAP_DP)
        # As wide as three parts for the name of the page and two for the person, the wipe key between them.
        wide = (self.width - taken) * 0.4 + taken - dp(theme.GAP_DP)
        self._keys.size_hint_x = 1 if narrow else None
        if not narrow:
            self._keys.width = max(1.0, wide)


class _Head(Pressable, Drawn):
    """The upper part of the card: all words; pressing it opens the scope's page."""

    redraw_on = ("held",)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self.word = Fitted("", step="mark", bold=True)
        self.over = Fitted("", step="title", bold=True, halign="right")
        self.tag = Fitted("", step="shout", bold=True)
        self.title = Words("", step="headline", bold=True)
        self.detail = Words("", step="detail")
        self.stack = BoxLayout(orientation="vertical", size_hint_y=None)
        self.stack.add_widget(self.title)
        self.stack.add_widget(self.detail)
        self.mark = StateMark()
        self.stack.add_widget(self.mark)
        self.stack.bind(minimum_height=self.stack.setter("height"))
        for widget in (self.word, self.over, self.tag, self.stack):
            self.add_widget(widget)
        self.stack.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def _arrange(self, *_: Any) -> None:
        wide = self.width
        column = min(dp(92), wide * 0.3)
        line = max(self.word.height, self.over.height)
        self.height = line + max(self.tag.height, self.stack.height)
        top = self.far_y - line
        self.word.width, self.over.width = wide * 0.34, wide * 0.66
        self.word.pos = (self.x, top + (line - self.word.height) / 2.0)
        self.over.pos = (self.x + wide * 0.34, top + (line - self.over.height) / 2.0)
        self.tag.width = column - dp(8)
        self.tag.pos = (self.x, top - self.tag.height)
        self.stack.width = max(1.0, wide - column)
        self.stack.pos = (self.x + column, top - self.stack.height)

    def draw(self) -> None:
        """Draw nothing: the card draws the ground."""


class DoNow(Drawn):
    """The card of the one most urgent thing: whose, what, since when, and its button."""

    level = OptionProperty("calm", options=list(_ROLES))
    redraw_on = ("level",)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self.head = _Head()
        self.button = BigButton("")
        self.add_widget(self.head)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.head.fbind("height", self._arrange)
        self.button.fbind("height", self._arrange)
        self.fbind("level", self._dress)
        self._empty = True
        self._dress()
        self._arrange()

    def clear(self) -> None:
        """Show nothing and take no room: nobody is wanted."""
        self._empty, self.opacity = True, 0
        self._arrange()

    def tell(self, tag: str, title: str, detail: str, over: str, mark: str) -> None:
        """Show whose turn it is."""
        self._empty, self.opacity = False, 1
        head = self.head
        head.mark.kind = mark
        head.tag.text, head.title.text, head.detail.text, head.over.text = tag, title, detail, over
        key = {"over": "bench.do_now", "ready": "bench.do_now", "calm": "bench.next"}[self.level]
        head.word.text = say(key)
        if self.button.parent is None:
            self.add_widget(self.button)
        self._arrange()

    def offer(self, words: str, under: str) -> None:
        """Show what its button says."""
        if self.button.words != words or self.button.under != under:
            self.button.set_words(words, under)

    def _dress(self, *_: Any) -> None:
        _, words, quiet, self.button.look = _ROLES[self.level]
        for label in (self.head.word, self.head.over, self.head.tag, self.head.title):
            label.paint(words)
        self.head.detail.paint(quiet)
        self.head.mark.paint(words)

    def _arrange(self, *_: Any) -> None:
        if self._empty:
            self.height = 0
            return
        pad = dp(theme.PAD_DP)
        self.height = self.head.height + self.button.height + 2.0 * pad
        self.head.width = max(1.0, self.width - 2 * pad)
        self.head.pos = (self.x + pad, self.far_y - 0.5 * pad - self.head.height)
        self.button.width = max(1.0, self.width - 2 * pad)
        self.button.pos = (self.x + pad, self.y + 0.9 * pad)

    def draw(self) -> None:
        """Draw the ground of the card."""
        brush(_ROLES[self.level][0])
        card(self.x, self.y, self.width, self.height, dp(theme.RADIUS_DP))
