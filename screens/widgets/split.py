"""A page's frame: its parts stand above and below the main one, on a handheld on its side beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme

# Lower than this, and this much wider than high, is a handheld on its side: its height is what is scarce. Own figures.
_LOW_DP, _WIDE, _LAID_OUT_DP = 480.0, 1.2, 100.0


class Split(BoxLayout):
    """Holds `above`, the main part and `below`; what is shown stays the same whichever way the handheld is held."""

    def __init__(
        self, main: Widget, above: Sequence[Widget], below: Sequence[Widget], side: float = 0.8, **kwargs: Any
    ) -> None:
        """`side` is how wide the parts beside the main one are, as a share of its width."""
        super().__init__(orientation="vertical", spacing=dp(theme.GAP_DP), **kwargs)
        self._side = side
        self._main, self._above, self._below = main, list(above), list(below)
        self._shown: tuple[bool, list[Widget]] | None = None
        self._again = Clock.create_trigger(self._arrange, -1)
        self.fbind("size", self._again)
        self._arrange()

    def set_above(self, above: Sequence[Widget]) -> None:
        """Change the parts above."""
        self._above = list(above)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        # A pane of a tablet is never so low: it stays as it is when a message takes some of its height.
        wide = on_its_side(self.width, self.height)
        if self._shown == (wide, self._above):
            return
        self._shown = (wide, list(self._above))
        for widget in (self._main, *self._above, *self._below):
            free(widget)
        self.clear_widgets()
        self.orientation = "horizontal" if wide else "vertical"
        if not wide:
            for widget in (*self._above, self._main, *self._below):
                self.add_widget(widget)
            return
        side = BoxLayout(orientation="vertical", size_hint_x=self._side)
        # Height is scarce there: between what is above and what is below stands one gap, not two.
        rest = Widget(size_hint_min_y=dp(theme.GAP_DP))
        for part in (_column(self._above, dp(theme.GAP_DP) / 2.0), rest, _column(self._below, dp(theme.GAP_DP))):
            side.add_widget(part)
        self.add_widget(side)
        self.add_widget(self._main)


def on_its_side(width: float, height: float) -> bool:
    """Promise whether a room so large is that of a handheld on its side: low, and clearly wider than high."""
    # Below the least is Kivy's own size of a widget that is not laid out yet.
    return dp(_LAID_OUT_DP) < height < dp(_LOW_DP) and width > _WIDE * height


def free(widget: Widget) -> None:
    """Take a widget out of where it stands, if it stands anywhere."""
    if widget.parent is not None:
        widget.parent.remove_widget(widget)


def _column(widgets: Sequence[Widget], gap: float) -> BoxLayout:
    """A column that is as high as its widgets."""
    column = BoxLayout(orientation="vertical", size_hint_y=None, height=0, spacing=gap)
    column.bind(minimum_height=column.setter("height"))
    for widget in widgets:
        column.add_widget(widget)
    return column
