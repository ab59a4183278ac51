"""The strip above the tabs: the answer to the last tap where there is something to say."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import BooleanProperty, OptionProperty
from kivy.uix.boxlayout import BoxLayout

from protocols.clock import Stamp, longest_s
from screens import theme
from screens.desk import Desk, Told
from screens.widgets.drawn import Drawn, brush, card
from screens.widgets.press import Pressable
from screens.widgets.text import Words
from screens.words import say

_ROLES = {"said": ("ready", "ready_ink"), "refused": ("caution", "caution_ink"), "failed": ("over", "over_ink")}
# How long a refusal or a notice stays when nobody touches it. Own figure: long enough to read twice.
SHOWN_S = 12
# Answers that mean that something was NOT recorded because of the device: they stay until touched.
NOT_RECORDED = ("disk", "clock")


class Strip(Pressable, Drawn):
    """Takes no room while it says nothing. Pressing it puts it away; it is never a way to give a command."""

    look_of = OptionProperty("said", options=list(_ROLES))
    # On a low screen it has less room around its words.
    tight = BooleanProperty(False)
    redraw_on = ("look_of", "held")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, height=0, **kwargs)
        self._since: Stamp | None = None
        self._stays = False
        self._stack = BoxLayout(orientation="vertical", size_hint_y=None)
        self._words = Words("", step="body", bold=True)
        self._remedy = Words("", step="detail")
        self._stack.add_widget(self._words)
        self._stack.add_widget(self._remedy)
        self._stack.bind(minimum_height=self._stack.setter("height"))
        self._stack.fbind("height", self._arrange)
        for name in ("pos", "size", "tight"):
            self.fbind(name, self._arrange)
        self.bind(on_command=lambda *_: self.put_away())

    @property
    def words(self) -> str:
        """Give what is said now, "" for nothing."""
        return str(self._words.text) if self._stack.parent is not None else ""

    def tell(self, told: Told, desk: Desk) -> None:
        """Show an answer; a plain success puts the last answer away, unless that was one nobody has touched yet."""
        if not told.words and told.done:
            if not self._stays:
                self.put_away()
            return
        self._stays = not told.done and told.rule in NOT_RECORDED
        self.look_of = "failed" if self._stays else "said" if told.done else "refused"
        self._words.text = told.words
        self._remedy.text = say("shell.touch_to_close") if self._stays and not told.remedy else told.remedy
        for label in (self._words, self._remedy):
            label.paint(_ROLES[self.look_of][1])
        self._since = None if self._stays else desk.now()
        if self._stack.parent is None:
            self.add_widget(self._stack)
        self._arrange()

    def put_away(self) -> None:
        """Say nothing any more."""
        self._stays, self._since = False, None
        if self._stack.parent is not None:
            self.remove_widget(self._stack)
        self._arrange()

    def look(self, now: Stamp) -> None:
        """Put away what has been shown for long enough."""
        if self._since is not None and longest_s(self._since, now) > SHOWN_S:
            self.put_away()

    def _arrange(self, *_: Any) -> None:
        if self._stack.parent is None:
            self.height = 0
            return
        pad = dp(theme.PAD_DP)
        self._stack.width = max(1.0, self.width - 4 * pad)
        self.height = self._stack.height + (1.2 if self.tight else 2.4) * pad
        self._stack.pos = (self.x + 2 * pad, self.y + (self.height - self._stack.height) / 2.0)

    def draw(self) -> None:
        """Draw the ground."""
        if self._stack.parent is None:
            return
        pad = dp(theme.PAD_DP)
        brush(_ROLES[self.look_of][0])
        low = pad * (0.2 if self.tight else 0.4)
        card(self.x + pad, self.y + low, self.width - 2 * pad, self.height - 2 * low, dp(10))
