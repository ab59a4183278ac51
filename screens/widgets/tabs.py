"""The tabs at the bottom, or at the side of a low screen: one word each, the chosen one bold and underlined."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.metrics import dp, sp
from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.drawn import Drawn, brush, card
from screens.widgets.press import Pressable
from screens.widgets.text import Fitted, fitting_px, line_height_px, width_px

HEIGHT_DP = 64.0
# As wide as the longest word of a tab in the languages that ship, at normal type size. Own figure.
UPRIGHT_DP = 92.0


def row_height_px() -> float:
    """Promise the height of a row of tabs at the person's type size."""
    return max(dp(HEIGHT_DP), line_height_px("body") + dp(36))


class Tab(Pressable, Drawn):
    """One tab."""

    chosen = BooleanProperty(False)
    redraw_on = ("chosen", "held")

    def __init__(self, key: str, words: str, **kwargs: Any) -> None:
        self.key = key
        super().__init__(**kwargs)
        self._labels = {bold: Fitted(words, step="body", bold=bold, halign="center") for bold in (False, True)}
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.fbind("chosen", self._dress)
        self._dress()

    @property
    def words(self) -> str:
        """Give the words of the tab."""
        return str(self._labels[True].text)

    def set_words(self, words: str) -> None:
        """Change the words, as when a count in them changes."""
        for label in self._labels.values():
            label.text = words
        self.redraw()

    def never_above(self, size_px: float) -> None:
        """Keep the words at or below a type size."""
        for label in self._labels.values():
            label.never_above(size_px)

    def _dress(self, *_: Any) -> None:
        self.clear_widgets()
        label = self._labels[self.chosen]
        label.paint("ink" if self.chosen else "quiet")
        self.add_widget(label)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        for label in self._labels.values():
            label.width = max(1.0, self.width - dp(4))
            label.pos = (self.x + dp(2), self.y + (self.height - label.height) / 2.0)

    def draw(self) -> None:
        """Draw the line below the chosen tab, and a frame while it is held."""
        if self.held:
            brush("rule")
            card(self.x + dp(2), self.y + dp(2), self.width - dp(4), self.height - dp(4), dp(8))
        if self.chosen:
            brush("ink")
            wide = min(self.width - dp(8), width_px(self.words, "body", bold=True) + dp(12))
            # Near its word, whether the tab is one of a row or, higher, one of a column.
            low = self.y + dp(7) + max(0.0, self.height - row_height_px()) / 2.0
            card(self.mid_x - wide / 2.0, low, wide, dp(4), dp(2))


class Tabs(BoxLayout):
    """The row of tabs, or the column where `upright`; dispatches `on_choose` with a key when one is pressed.

    The page sets `chosen`.
    """

    __events__ = ("on_choose",)
    chosen = StringProperty("")
    upright = BooleanProperty(False)

    def __init__(self, tabs: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        """Take the tabs as (key, words), left to right."""
        super().__init__(**kwargs)
        self._tabs: dict[str, Tab] = {}
        for key, words in tabs:
            tab = Tab(key, words)
            tab.bind(on_command=self._choose)
            self._tabs[key] = tab
            self.add_widget(tab)
        with self.canvas.before:
            brush("rail")
            self._ground = card(self.x, self.y, self.width, self.height, 0)
        self.fbind("pos", self._lay_ground)
        self.fbind("size", self._lay_ground)
        self.fbind("width", self._even_out)
        self.fbind("chosen", self._mark_chosen)
        self.fbind("upright", self._stand)
        self._mark_chosen()
        self._stand()

    def _stand(self, *_: Any) -> None:
        self.orientation = "vertical" if self.upright else "horizontal"
        self.padding = (0, dp(4)) if self.upright else (dp(4), 0)
        self.size_hint = (None, 1) if self.upright else (1, None)
        if self.upright:
            self.width = dp(UPRIGHT_DP)
        else:
            self.height = row_height_px()

    def set_words(self, key: str, words: str) -> None:
        """Change the words of one tab."""
        self._tabs[key].set_words(words)
        self._even_out()

    def on_choose(self, key: str) -> None:
        """Do nothing by itself; the app binds it."""

    def _even_out(self, *_: Any) -> None:
        """Give all words the size at which the longest fits its tab."""
        room = max(1.0, (self.width - dp(8)) / (1 if self.upright else len(self._tabs)) - dp(4))
        full = sp(theme.step_sp("body"))
        size_px = min(fitting_px(tab.words, True, full, room) for tab in self._tabs.values())
        for tab in self._tabs.values():
            tab.never_above(size_px)

    def _choose(self, tab: Tab) -> None:
        self.dispatch("on_choose", tab.key)

    def _mark_chosen(self, *_: Any) -> None:
        for key, tab in self._tabs.items():
            tab.chosen = key == self.chosen

    def _lay_ground(self, *_: Any) -> None:
        self._ground.pos, self._ground.size = self.pos, self.size
