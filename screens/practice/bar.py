"""The bar over every page of practice: the word PRACTICE, what to do next, and why."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.press import Pressable
from screens.widgets.text import Fitted, Words
from screens.words import say

_STRIPE_DP = 14.0


class PracticeBar(Pressable, Drawn):
    """As high as its words need; pressing it opens what practice offers: another pace, the end."""

    redraw_on = ("held",)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, **kwargs)
        self._stack = BoxLayout(orientation="vertical", size_hint_y=None)
        self._mark = Fitted(say("practice.mark"), step="mark", role="caution_ink", bold=True)
        self._do = Words("", step="body", role="caution_ink", bold=True)
        self._why = Words("", step="mark", role="caution_ink")
        for label in (self._mark, self._do, self._why):
            self._stack.add_widget(label)
        self._stack.bind(minimum_height=self._stack.setter("height"))
        self._stack.fbind("height", self._arrange)
        self.add_widget(self._stack)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)

    def tell(self, mark: str, do: str, why: str) -> None:
        """Show these words."""
        self._mark.text, self._do.text, self._why.text = mark, do, why

    @property
    def words(self) -> str:
        """Give what is to be done next."""
        return str(self._do.text)

    def _arrange(self, *_: Any) -> None:
        pad, stripe = dp(theme.MARGIN_DP), dp(_STRIPE_DP)
        self._stack.width = max(1.0, self.width - 2 * pad)
        self.height = max(dp(theme.TARGET_OTHER_DP), self._stack.height + dp(8)) + stripe
        self._stack.pos = (self.x + pad, self.y + (self.height - stripe - self._stack.height) / 2.0)

    def draw(self) -> None:
        """Draw a ground of its own colour under a band of slanted stripes, which no page of the real app has."""
        brush("caution")
        card(self.x, self.y, self.width, self.height, 0)
        stripe = dp(_STRIPE_DP)
        low, high = self.far_y - stripe, self.far_y
        brush("caution_sign")
        x = self.x
        while x < self.far_x:
            stroke([x, low, min(x + stripe, self.far_x), high], dp(5))
            x += 2 * stripe
        if self.held:
            brush("ink")
            stroke([self.x, self.y + dp(2), self.far_x, self.y + dp(2)], dp(3))
