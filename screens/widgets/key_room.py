"""Where keys are pressed: what is asked and typed stands above the keys, on a low screen beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.keypad import Keypad
from screens.widgets.keypad_keys import COLUMNS
from screens.widgets.split import free, on_its_side

# Beside the keys, of the width of a handheld on its side: figures are few, letters need nearly all. Own figures.
_FIGURES_SIDE, _SIDE_MOST = 0.48, 0.3
# Room for the word of one key beside the letters.
_SIDE_LEAST_DP = 96.0

Lay = Callable[[bool], tuple[Sequence[Widget], Sequence[Widget]]]


def row(*widgets: Widget) -> BoxLayout:
    """Promise these widgets beside each other, as high as a key; they are taken out of where they stood."""
    box = BoxLayout(size_hint_y=None, height=dp(theme.TARGET_OTHER_DP), spacing=dp(theme.GAP_DP))
    for widget in widgets:
        free(widget)
        box.add_widget(widget)
    return box


class KeyRoom(BoxLayout):
    """Holds a keypad and what belongs to it.

    `lay(low)` gives the widgets beside the keys and those above them, the keypad last; upright there are none beside.
    """

    def __init__(self, keypad: Keypad, lay: Lay, **kwargs: Any) -> None:
        super().__init__(orientation="horizontal", spacing=dp(theme.GAP_DP), **kwargs)
        self._keypad, self._lay = keypad, lay
        self._low: bool | None = None
        self._side: BoxLayout | None = None
        self._again = Clock.create_trigger(self._arrange, -1)
        self.fbind("size", self._again)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        low = on_its_side(self.width, self.height)
        if low != self._low:
            self._low = self._keypad.low = low
            self.clear_widgets()
            side, main = self._lay(low)
            self._side = self._column(side) if side else None
            self._column(main)
        if self._side is not None:
            self._side.width = self._side_px()

    def _column(self, widgets: Sequence[Widget]) -> BoxLayout:
        column = BoxLayout(orientation="vertical", spacing=dp(theme.GAP_DP))
        for widget in widgets:
            free(widget)
            column.add_widget(widget)
        if not self.children and self._low:
            column.size_hint_x = None
        self.add_widget(column)
        return column

    def _side_px(self) -> float:
        if self._keypad.kind == "figures":
            return float(self.width * _FIGURES_SIDE)
        gap = dp(theme.GAP_DP)
        for count in COLUMNS:
            left = self.width - count * (dp(theme.TARGET_OTHER_DP) + gap)
            if left >= dp(_SIDE_LEAST_DP):
                break
        return float(min(left, self.width * _SIDE_MOST))
