"""The banner on a scope's page when another scope needs hands; pressing it goes there."""

from __future__ import annotations

from typing import Any

from kivy.metrics import dp
from kivy.properties import OptionProperty

from screens import theme
from screens.widgets.drawn import Drawn, brush, card, stroke
from screens.widgets.press import Pressable
from screens.widgets.text import Words, width_px

_ROLES = {"over": ("over", "over_ink"), "ready": ("ready", "ready_ink"), "soon": ("panel", "ink")}


class Banner(Pressable, Drawn):
    """Names another scope and its need; `level` is over, ready or soon. `on_command` when pressed."""

    level = OptionProperty("ready", options=list(_ROLES))
    redraw_on = ("level", "held")

    def __init__(self, tag: str = "", words: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._tag = Words(tag, step="title", bold=True, size_hint_x=None)
        self._words = Words(words, step="body", bold=True)
        self.add_widget(self._tag)
        self.add_widget(self._words)
        self._words.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.fbind("level", self._dress)
        self._dress()
        self._arrange()

    def set_words(self, tag: str, words: str) -> None:
        """Change which scope is named and what it needs."""
        self._tag.text = tag
        self._words.text = words
        self._arrange()

    def _dress(self, *_: Any) -> None:
        for label in (self._tag, self._words):
            label.paint(_ROLES[self.level][1])

    def _arrange(self, *_: Any) -> None:
        pad, arrow = dp(theme.PAD_DP), dp(20)
        self.height = max(dp(theme.TARGET_OTHER_DP), self._words.height + pad)
        self._tag.width = width_px(self._tag.text, "title", bold=True) + dp(2)
        self._tag.pos = (self.x + pad, self.y + (self.height - self._tag.height) / 2.0)
        left = self._tag.x + self._tag.width + dp(theme.GAP_DP)
        self._words.width = max(1.0, self.far_x - arrow - pad - left)
        self._words.pos = (left, self.y + (self.height - self._words.height) / 2.0)

    def draw(self) -> None:
        """Draw the ground and the open arrow that says that the banner leads somewhere."""
        ground, ink = _ROLES[self.level]
        brush(ground)
        card(self.x, self.y, self.width, self.height, dp(10))
        brush(ink)
        half, tip = dp(7), self.far_x - dp(theme.PAD_DP)
        stroke([tip - half, self.mid_y + half, tip, self.mid_y, tip - half, self.mid_y - half], dp(3))
