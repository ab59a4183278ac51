"""A page's frame: on a tall screen its parts stand above and below the main one, on a wide one beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from screens import theme

# A page this much wider than high is laid out in two columns: a handheld on its side.
_WIDE = 1.2


class Split(BoxLayout):
    """Holds `above`, the main part and `below`; what is shown stays the same whichever way the handheld is held."""

    def __init__(self, main: Widget, above: Sequence[Widget], below: Sequence[Widget], **kwargs: Any) -> None:
        super().__init__(orientation="vertical", spacing=dp(theme.GAP_DP), **kwargs)
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
        wide = self.width > _WIDE * self.height
        if self._shown == (wide, self._above):
            return
        self._shown = (wide, list(self._above))
        for widget in (self._main, *self._above, *self._below):
            if widget.parent is not None:
                widget.parent.remove_widget(widget)
        self.clear_widgets()
        self.orientation = "horizontal" if wide else "vertical"
        side: BoxLayout = self
        if wide:
            side = BoxLayout(orientation="vertical", spacing=dp(theme.GAP_DP), size_hint_x=0.8)
            self.add_widget(side)
        for widget in self._above:
            side.add_widget(widget)
        if wide:
            side.add_widget(Widget())
        else:
            self.add_widget(self._main)
        for widget in self._below:
            side.add_widget(widget)
        if wide:
            self.add_widget(self._main)
