"""The caution strip: a drawn warning triangle, the danger in bold, what to wear or do below."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, dot, stroke
from screens.widgets.text import Words

_SIGN_DP = 34.0


class Caution(Drawn):
    """Warns in two short texts; as tall as they need."""

    def __init__(self, danger: str = "", wear: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._stack = BoxLayout(orientation="vertical", size_hint_y=None)
        self._danger = Words(danger, step="detail", role="caution_ink", bold=True)
        self._wear = Words(wear, step="detail", role="caution_ink")
        self._stack.add_widget(self._danger)
        self._stack.add_widget(self._wear)
        self._stack.bind(minimum_height=self._stack.setter("height"))
        self.add_widget(self._stack)
        self._stack.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self._arrange()

    def set_words(self, danger: str, wear: str = "") -> None:
        """Change what is warned of."""
        self._danger.text = danger
        self._wear.text = wear

    def _arrange(self, *_: Any) -> None:
        pad, sign = dp(theme.PAD_DP), dp(_SIGN_DP)
        self.height = max(sign, self._stack.height) + 1.5 * pad
        self._stack.width = max(1.0, self.width - sign - 3 * pad)
        self._stack.pos = (self.x + sign + 2 * pad, self.y + (self.height - self._stack.height) / 2.0)

    def draw(self) -> None:
        """Draw the ground and the warning triangle."""
        brush("caution")
        card(self.x, self.y, self.width, self.height, dp(theme.RADIUS_DP))
        side = dp(_SIGN_DP)
        left, line = self.x + dp(theme.PAD_DP), dp(3.2)
        tall = side * 0.86
        low = self.mid_y - tall / 2.0
        brush("caution_sign")
        inset = line / 2.0
        corners = [
            left + inset,
            low + inset,
            left + side - inset,
            low + inset,
            left + side / 2.0,
            low + tall - inset,
        ]
        stroke(corners, line, close=True)
        middle = left + side / 2.0
        stroke([middle, low + tall * 0.34, middle, low + tall * 0.66], dp(3.4))
        dot(middle, low + tall * 0.15 + dp(1.9), dp(3.8))
