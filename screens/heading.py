"""The head of a page and the headings within it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.card import SideKey
from screens.widgets.text import Fitted, Words, line_height_px, width_px
from screens.words import say

# The title takes at most this share of the head, so that what stands beside it stays readable.
_TITLE_MOST = 0.62


class Head(BoxLayout):
    """The name of the page at the left, something about now at the right, smaller; with `back` a key that goes back."""

    def __init__(self, title: str, side: str = "", back: Callable[[], object] | None = None, **kwargs: Any) -> None:
        super().__init__(orientation="horizontal", size_hint_y=None, spacing=dp(theme.GAP_DP), **kwargs)
        self.height = line_height_px("headline") + dp(4)
        self._taken = 0.0
        if back is not None:
            key = SideKey(say("shell.back"), width=dp(76))
            key.bind(on_command=lambda *_: back())
            self.height = max(self.height, key.height)
            self.add_widget(key)
            self._taken = key.width + dp(theme.GAP_DP)
        self._title = Fitted(title, step="headline", bold=True, size_hint_x=None)
        self._side = Fitted(side, step="detail", role="quiet", halign="right")
        for label in (self._title, self._side):
            label.size_hint_y = 1
            self.add_widget(label)
        self.fbind("width", self._share_out)
        self._share_out()

    def set_words(self, title: str, side: str = "") -> None:
        """Change both sides."""
        self._title.text, self._side.text = title, side
        self._share_out()

    def _share_out(self, *_: Any) -> None:
        most = (self.width - self._taken) * (_TITLE_MOST if self._side.text else 1.0)
        self._title.width = max(1.0, min(most, width_px(self._title.text, "headline", bold=True) * 1.06 + dp(4)))


class Titled(BoxLayout):
    """A heading that stays with the first block below it, so that it never stands alone at the foot of a leaf."""

    def __init__(self, words: str, role: str = "ink", **kwargs: Any) -> None:
        super().__init__(orientation="vertical", size_hint_y=None, spacing=dp(4), **kwargs)
        self.heading = Words(words, step="body", role=role, bold=True)
        self.bind(minimum_height=self.setter("height"))
        self.add_widget(self.heading)

    def hold(self, block: Widget) -> Titled:
        """Put this block below the heading, in place of the one before; gives itself."""
        if self.children[0] is not block or len(self.children) != 2:
            if block.parent is not None:
                block.parent.remove_widget(block)
            for other in [child for child in self.children if child is not self.heading]:
                self.remove_widget(other)
            self.add_widget(block)
        return self


def under(title: Titled, blocks: Sequence[Widget], empty: Widget | None = None) -> list[Widget]:
    """Give the blocks of one section with its heading on the first; [] for an empty one without words for that."""
    shown = list(blocks) or ([empty] if empty is not None else [])
    if not shown:
        return []
    for block in shown[1:]:
        if isinstance(block.parent, Titled):
            block.parent.remove_widget(block)
    return [title.hold(shown[0]), *shown[1:]]
