"""The steps of a cycle as a row of dots: done, now, to do, and those that wait for time."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import ListProperty

from screens.widgets.drawn import Drawn, brush, card, dot

KINDS = ("done", "now", "todo", "wait")


class UnknownKindOfDot(ValueError):
    """A step dot of a kind that cannot be drawn was asked for (a defect of the caller)."""


class StepDots(Drawn):
    """Shows `kinds`: done, now, todo or wait for each step; a wait is one that time must pass for."""

    kinds = ListProperty([])
    redraw_on = ("kinds",)

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        # Bound before the kinds are set: a wrong one is refused where it is given, not at some later frame.
        self.fbind("kinds", self._check)
        super().__init__(**kwargs)
        self.height = dp(18)

    def _check(self, _: Any, kinds: list[str]) -> None:
        for kind in kinds:
            if kind not in KINDS:
                raise UnknownKindOfDot(f"a step dot cannot be {kind!r}; use one of {', '.join(KINDS)}")

    def draw(self) -> None:
        """Draw the dots evenly over the width."""
        if not self.kinds:
            return
        pitch = self.width / len(self.kinds)
        size = min(dp(11), pitch * 0.6)
        for number, kind in enumerate(self.kinds):
            middle, low = self.x + pitch * (number + 0.5), self.mid_y - size / 2.0
            if kind == "now":
                brush("act")
                wide = min(pitch * 0.92, size * 1.9)
                card(middle - wide / 2.0, low - dp(1), wide, size + dp(2), size)
            elif kind == "done":
                brush("ink")
                dot(middle, self.mid_y, size)
            else:
                brush("todo")
                if kind == "wait":
                    dot(middle, self.mid_y, size, dp(2.4))
                else:
                    dot(middle, self.mid_y, size * 0.62)
