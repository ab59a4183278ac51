"""The mark of dirty and clean that stands on every lane and every page of a scope."""

from __future__ import annotations

from typing import Any

from kivy.graphics import Rectangle
from kivy.metrics import sp
from kivy.properties import OptionProperty

from screens import theme
from screens.widgets.drawn import Drawn, brush, stroke
from screens.widgets.text import Words
from screens.words import say


class StateMark(Drawn):
    """A filled square NOT DISINFECTED, an open one DISINFECTED, NOT RELEASED, or a ticked green one RELEASED.

    A mark that nobody set says not disinfected: the safe answer.
    """

    kind = OptionProperty("not_disinfected", options=["not_disinfected", "disinfected", "released"])
    redraw_on = ("kind",)

    def __init__(self, **kwargs: Any) -> None:
        self._role = "ink"
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self._words = Words(step="mark", bold=True)
        self.add_widget(self._words)
        self._words.fbind("height", self._arrange)
        for name in ("pos", "size"):
            self.fbind(name, self._arrange)
        self.fbind("kind", self._say)
        self._say()

    def paint(self, role: str) -> None:
        """Show the mark in the colour of a role, for a ground other than that of a panel; never when released."""
        self._role = role
        self._say()
        self.redraw()

    def _say(self, *_: Any) -> None:
        self._words.text = say(f"state.{self.kind}")
        self._words.paint("released" if self.kind == "released" else self._role)
        self._arrange()

    def _arrange(self, *_: Any) -> None:
        square = self._square_px()
        self.height = max(self._words.height, square)
        self._words.width = max(1.0, self.width - square * 1.5)
        self._words.pos = (self.x + square * 1.5, self.y + (self.height - self._words.height) / 2.0)

    @staticmethod
    def _square_px() -> float:
        return float(round(sp(theme.step_sp("mark"))))

    def draw(self) -> None:
        """Draw the square, level with the first line of the words."""
        square = self._square_px()
        # Whole pixels, so that the square is sharp.
        x, y = round(self.x), round(self.far_y - (sp(theme.step_sp("mark")) * 1.18 + square) / 2.0)
        if self.kind == "not_disinfected":
            brush(self._role)
            Rectangle(pos=(x, y), size=(square, square))
            return
        brush("released" if self.kind == "released" else self._role)
        edge = max(1, round(square * 0.17))
        for at, size in (
            ((x, y), (square, edge)),
            ((x, y + square - edge), (square, edge)),
            ((x, y), (edge, square)),
            ((x + square - edge, y), (edge, square)),
        ):
            Rectangle(pos=at, size=size)
        if self.kind == "released":
            corners = (0.24, 0.52, 0.44, 0.3, 0.78, 0.72)
            ticks = [start + square * share for share, start in zip(corners, (x, y) * 3, strict=True)]
            stroke(ticks, square * 0.14)
