"""The wipe lock: while the screen is wiped nothing takes a touch; two targets, pressed one after the other, end it.

A cloth slides, lies on several places at once and touches beside the targets: each of these begins the sequence again.
Prompts go on, and the most urgent scope is named here, so that nobody wipes past a limit unknowing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from kivy.base import EventLoop
from kivy.clock import Clock
from kivy.input.motionevent import MotionEvent
from kivy.metrics import dp
from kivy.properties import BooleanProperty
from kivy.uix.widget import Widget

from protocols.clock import Stamp, longest_s
from protocols.prompts import Level
from screens import theme
from screens.page import Page
from screens.telling import over_words, tell
from screens.widgets.drawn import Drawn, brush, dot
from screens.widgets.text import Fitted, Words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

# A finger that moved further than this wiped. The second target must follow within the time. Own figures.
STILL_DP = 12.0
WITHIN_S = 5.0
_TARGET_DP = 104.0


class Target(Drawn):
    """One of the two targets, with its number; `on` where it is the one to press now."""

    on = BooleanProperty(False)
    redraw_on = ("on",)

    def __init__(self, number: str, **kwargs: Any) -> None:
        super().__init__(size_hint=(None, None), size=(dp(_TARGET_DP), dp(_TARGET_DP)), **kwargs)
        self._number = Fitted(number, step="shout", bold=True, halign="center")
        self.add_widget(self._number)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.fbind("on", self._dress)
        self._dress()

    def _arrange(self, *_: Any) -> None:
        self._number.width = max(1.0, self.width)
        self._number.pos = (self.x, self.y + (self.height - self._number.height) / 2.0)

    def _dress(self, *_: Any) -> None:
        self._number.paint("act_ink" if self.on else "ink")

    def draw(self) -> None:
        """Draw a disc where it is this one's turn, else a ring."""
        brush("act" if self.on else "todo")
        dot(self.mid_x, self.mid_y, self.width, 0.0 if self.on else dp(3))


class WipePage(Page):
    """Covers everything. Takes no scan and no way back; only the two targets take it away."""

    key = "wipe"
    with_tabs = False
    whole = True
    locked = True

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell, padding=0, spacing=0)
        self._first_at: Stamp | None = None
        self._fingers: set[Any] = set()
        self._began: tuple[Any, float, float] | None = None
        self._title = Words(say("wipe.title"), step="headline", bold=True)
        self._how = Words(say("wipe.how"), step="body")
        self._due = Words("", step="title", role="over_text", bold=True)
        self.targets = (Target("1"), Target("2"))
        self.add_widget(_Room((self._title, self._how, self._due), self.targets))
        self.refresh()

    def refresh(self) -> None:
        """Name the most urgent scope; forget a first target whose second did not follow in time."""
        now = self.desk.now()
        if self._first_at is not None and longest_s(self._first_at, now) > WITHIN_S:
            self._first_at = None
        due = next((x for x in self.shell.lanes if x.level is not None and x.level >= Level.READY), None)
        if due is None:
            self._due.text = ""
        else:
            told = tell(due, now, self.desk.unit.settings.zone)
            when = over_words(due) if told.level == "over" else told.figure
            self._due.text = say("wipe.due", tag=due.scope, what=told.title, when=when)
            self._due.paint("over_text" if told.level == "over" else "ink")
        for number, target in enumerate(self.targets):
            target.on = number == (0 if self._first_at is None else 1)

    def back(self) -> bool:
        """Stay: the back button lies under the cloth too."""
        return True

    def scanned(self, text: str) -> bool:
        """Take no scan: nobody sees where it would go."""
        return True

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Take note of a finger on the target whose turn it is; anything else begins the sequence again."""
        # Some may have left unseen, as when the app was paused under a hand.
        self._fingers &= {finger.uid for finger in EventLoop.me_list}
        self._fingers.add(touch.uid)
        wanted = self.targets[0 if self._first_at is None else 1]
        if len(self._fingers) > 1 or not wanted.collide_point(*touch.pos):
            self._again()
        else:
            self._began = (touch.uid, touch.x, touch.y)
        touch.grab(self)
        return True

    def on_touch_move(self, touch: MotionEvent) -> bool:
        """A finger that moves wipes."""
        if self._began is not None and touch.uid == self._began[0]:
            moved = max(abs(touch.x - self._began[1]), abs(touch.y - self._began[2]))
            if moved > dp(STILL_DP):
                self._again()
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """Take a target when the one finger that pressed it leaves where it came down."""
        if touch.grab_current is not self:
            return True
        touch.ungrab(self)
        self._fingers.discard(touch.uid)
        began, self._began = self._began, None
        if began is None or began[0] != touch.uid:
            return True
        if max(abs(touch.x - began[1]), abs(touch.y - began[2])) > dp(STILL_DP):
            self._again()
        elif self._first_at is None:
            self._first_at = self.desk.now()
            self.refresh()
        else:
            self.shell.close_over(self)
        return True

    def _again(self) -> None:
        self._first_at, self._began = None, None
        self.refresh()


class _Room(Widget):
    """The words at the top, the targets at opposite corners below them: no one stroke presses both."""

    def __init__(self, words: Sequence[Words], targets: Sequence[Target]) -> None:
        super().__init__()
        self._said, self._targets = words, targets
        self._again = Clock.create_trigger(self._arrange, -1)
        for name in ("pos", "size"):
            self.fbind(name, self._again)
        for words_of in words:
            words_of.fbind("height", self._again)
        for widget in (*words, *targets):
            self.add_widget(widget)

    def _arrange(self, *_: Any) -> None:
        pad, gap = dp(theme.MARGIN_DP), dp(theme.GAP_DP)
        top = self.y + self.height - pad
        for words in self._said:
            words.width = max(1.0, self.width - 2 * pad)
            top -= words.height
            words.pos = (self.x + pad, top)
            top -= gap
        first, second = self._targets
        first.pos = (self.x + pad, self.y + pad)
        second.pos = (self.x + self.width - pad - second.width, max(first.y, top - second.height))
