"""A running time: drawn from pictures of single characters made once, so that a second passing renders no
text.

Rendering a text anew is by far the dearest thing on a screen that changes once a second. Roboto's figures are
equally wide, so the characters of a time stay where they are and only their pictures are exchanged.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from kivy.core.text import Label as CoreLabel
from kivy.graphics import Color, Rectangle
from kivy.metrics import sp
from kivy.properties import StringProperty
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.fonts import font_file
from screens.widgets.text import crisp, fitting_px, line_height_px


@lru_cache(maxsize=512)
def _picture(char: str, size_px: float, bold: bool) -> CoreLabel:
    """Give a character rendered in white, to be tinted. The label is kept, not its texture alone: Kivy
    renders it again through the label when the graphics context was lost, as after a pause on Android."""
    label = CoreLabel(text=char, font_name=font_file(bold), font_size=size_px, color=(1, 1, 1, 1))
    label.refresh()
    crisp(label.texture)
    return label


class Figure(Widget):
    """Shows `text` on one line at the left, shrunk to the width when it must be; for text that changes every
    second."""

    text = StringProperty("")

    def __init__(
        self, text: str = "", step: str = "figure", role: str = "ink", bold: bool = True, **kwargs: Any
    ) -> None:
        self.step = step
        self._bold = bold
        self._size_px = 0.0
        self._spots: list[Rectangle] = []
        self._shown = ""
        kwargs.setdefault("size_hint_y", None)
        super().__init__(**kwargs)
        self.height = line_height_px(step)
        with self.canvas:
            self._colour = Color(*theme.rgba(role))
        for name in ("pos", "size"):
            self.fbind(name, self._lay_out)
        self.fbind("text", self._exchange)
        self.text = text

    def paint(self, role: str) -> None:
        """Show the text in the colour of another role."""
        self._colour.rgba = theme.rgba(role)

    @property
    def text_size_px(self) -> tuple[float, float]:
        """Give the width and height that the text takes as drawn."""
        pictures = [_picture(char, self._size_px, self._bold).texture for char in self.text]
        return sum(picture.width for picture in pictures), max((picture.height for picture in pictures), default=0)

    def _fit(self) -> float:
        # Measured with one figure in place of all: a time then keeps its size while its figures change.
        widest = "".join("0" if char.isdigit() else char for char in self.text)
        return fitting_px(widest, self._bold, sp(theme.step_sp(self.step)), self.width)

    def _exchange(self, *_: Any) -> None:
        """Exchange only the characters that changed, when nothing else moves because of it."""
        same_places = len(self.text) == len(self._shown) and all(
            new == old or (new.isdigit() and old.isdigit()) for new, old in zip(self.text, self._shown, strict=True)
        )
        if not same_places or not self._spots:
            self._lay_out()
            return
        for spot, new, old in zip(self._spots, self.text, self._shown, strict=True):
            if new != old:
                spot.texture = _picture(new, self._size_px, self._bold).texture
        self._shown = self.text

    def _lay_out(self, *_: Any) -> None:
        self._size_px = self._fit()
        for spot in self._spots:
            self.canvas.remove(spot)
        self._spots = []
        x = round(self.x)
        with self.canvas:
            for char in self.text:
                texture = _picture(char, self._size_px, self._bold).texture
                y = round(self.y + (self.height - texture.height) / 2.0)
                self._spots.append(Rectangle(texture=texture, pos=(x, y), size=texture.size))
                x += texture.width
        self._shown = self.text
