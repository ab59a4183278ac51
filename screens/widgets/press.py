"""One command a press, however many fingers or water drops touch the glass."""

from __future__ import annotations

from typing import Any

from kivy.base import EventLoop
from kivy.input.motionevent import MotionEvent
from kivy.properties import BooleanProperty
from kivy.uix.widget import Widget

BOUNCE_S = 0.12
"""A wet glove often touches twice for one tap. A new press this soon after the last is taken as the same one.
Own figure; deliberate taps of one finger come slower than this."""


class PressSequence:
    """Decides when touches on one button amount to a command; plain logic, no window.

    A sequence begins when the first finger comes down and ends when the last one leaves. It gives one command
    at most: when the first finger leaves while still on the button. A finger that slides off gives none.
    """

    def __init__(self, bounce_s: float = BOUNCE_S) -> None:
        self._bounce_s = bounce_s
        self._fingers: list[object] = []
        self._first: object | None = None
        self._ended_s: float | None = None

    @property
    def under_way(self) -> bool:
        """Say whether the finger that counts is down."""
        return self._first is not None

    def down(self, finger: object, at_s: float) -> None:
        """Take note that a finger came down on the button at a time in seconds of any one clock."""
        bounced = self._ended_s is not None and 0.0 <= at_s - self._ended_s < self._bounce_s
        if not self._fingers and not bounced:
            self._first = finger
        self._fingers.append(finger)

    def up(self, finger: object, on_button: bool, at_s: float) -> bool:
        """Take note that a finger left; answer whether this is the one command of the sequence."""
        if finger not in self._fingers:
            return False
        self._fingers.remove(finger)
        commands = finger is self._first and on_button
        if finger is self._first:
            self._first = None
            self._ended_s = at_s
        return commands

    def keep_only(self, alive: list[object]) -> None:
        """Forget fingers that left unseen, as when the app was paused under a hand."""
        self._fingers = [finger for finger in self._fingers if any(finger is other for other in alive)]
        if self._first is not None and not any(self._first is finger for finger in self._fingers):
            self._first = None


class Pressable(Widget):
    """Anything that is pressed: dispatches `on_command` once a press sequence; `held` while down."""

    __events__ = ("on_command",)
    held = BooleanProperty(False)

    def __init__(self, **kwargs: Any) -> None:
        self._sequence = PressSequence()
        super().__init__(**kwargs)

    def on_command(self) -> None:
        """Do nothing by itself; the page binds what the press means."""

    def on_touch_down(self, touch: MotionEvent) -> bool:
        """Take the touch when it is on this widget; a disabled one swallows it."""
        if touch.is_mouse_scrolling or not self.collide_point(*touch.pos):
            return False
        if self.disabled:
            return True
        self._sequence.keep_only(list(EventLoop.me_list))
        touch.grab(self)
        self._sequence.down(touch, touch.time_start)
        self.held = self._sequence.under_way
        return True

    def on_touch_up(self, touch: MotionEvent) -> bool:
        """Give the command when the finger that counts leaves on this widget."""
        if touch.grab_current is not self:
            return False
        touch.ungrab(self)
        ended_s = touch.time_end if touch.time_end >= 0 else touch.time_start
        commands = self._sequence.up(touch, self.collide_point(*touch.pos), ended_s)
        self.held = self._sequence.under_way
        if commands and not self.disabled:
            self.dispatch("on_command")
        return True
