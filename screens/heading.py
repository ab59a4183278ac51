"""The head of a page and the headings within it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.card import SideKey
from screens.widgets.split import free
from screens.widgets.text import Fitted, Words, line_height_px, width_px
from screens.words import say

# The title takes at most this share of the head, so that what stands beside it stays readable.
_TITLE_MOST = 0.62


# Narrower than this, as beside the main part of a page on a low screen, the head is a column of its parts. Own figure.
_NARROW_DP = 300.0

# From this width on the keys of a page stand beside its head. Own figure.
_BESIDE_DP = 480.0


class Head(BoxLayout):
    """The name of the page at the left, something about now at the right, smaller; with `back` a key that goes back.

    Where it is narrow the key stands above the name, and the name takes as many lines as it needs.
    """

    def __init__(self, title: str, side: str = "", back: Callable[[], object] | None = None, **kwargs: Any) -> None:
        super().__init__(orientation="horizontal", size_hint_y=None, spacing=dp(theme.GAP_DP), **kwargs)
        self.height = line_height_px("headline") + dp(4)
        self._low_px = self.height
        self._key: SideKey | None = None
        if back is not None:
            self._key = SideKey(say("shell.back"), width=dp(76))
            self._key.bind(on_command=lambda *_: back())
            self._low_px = max(self.height, self._key.height)
        self._title = Fitted(title, step="headline", bold=True, size_hint_x=None)
        self._side = Fitted(side, step="detail", role="quiet", halign="right")
        self._lines = Words(title, step="title", bold=True), Words(side, step="detail", role="quiet")
        for label in (self._title, self._side):
            label.size_hint_y = 1
        self._stacked: bool | None = None
        self.bind(minimum_height=self._level)
        self.fbind("width", self._share_out)
        self._share_out()

    def set_words(self, title: str, side: str = "") -> None:
        """Change both sides."""
        self._title.text, self._side.text = title, side
        for label, words in zip(self._lines, (title, side), strict=True):
            label.text = words
        self._share_out()

    def _stack(self, stacked: bool) -> None:
        if self._stacked == stacked:
            return
        self._stacked = stacked
        self.clear_widgets()
        self.orientation = "vertical" if stacked else "horizontal"
        labels = self._lines if stacked else (self._title, self._side)
        for widget in (*([self._key] if self._key is not None else []), *labels):
            self.add_widget(widget)
        self._level()

    def _level(self, *_: Any) -> None:
        self.height = self.minimum_height if self._stacked else self._low_px

    def _share_out(self, *_: Any) -> None:
        # A width of 100 px is the one that Kivy gives every widget before it is laid out.
        self._stack(100 < self.width < dp(_NARROW_DP))
        taken = self._key.width + dp(theme.GAP_DP) if self._key is not None else 0.0
        most = (self.width - taken) * (_TITLE_MOST if self._side.text else 1.0)
        self._title.width = max(1.0, min(most, width_px(self._title.text, "headline", bold=True) * 1.06 + dp(4)))


class HeadRow(BoxLayout):
    """The head of a page and its keys: below the head, or beside it where there is the width for both."""

    def __init__(self, head: Head, keys: Sequence[Widget], **kwargs: Any) -> None:
        super().__init__(size_hint_y=None, spacing=dp(theme.GAP_DP), **kwargs)
        self._row = BoxLayout(size_hint_y=None, spacing=dp(theme.GAP_DP))
        for key in keys:
            self._row.add_widget(key)
            key.fbind("height", self._stand)
        self._head = head
        for part in (head, self._row):
            self.add_widget(part)
        self.fbind("width", self._stand)
        self.bind(minimum_height=self.setter("height"))
        self._stand()

    def _stand(self, *_: Any) -> None:
        beside = self.width >= dp(_BESIDE_DP)
        self.orientation = "horizontal" if beside else "vertical"
        self._row.height = max(key.height for key in self._row.children)
        share = min(0.72, 0.12 * len(self._row.children) + 0.12)
        self._row.size_hint_x, self._head.size_hint_x = (share, 1 - share) if beside else (1, 1)


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
            free(block)
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
