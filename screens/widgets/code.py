"""A QR code as large as its place allows, on whole pixels, with the margin that a scanner needs."""

from __future__ import annotations

from typing import Any

import segno
from kivy.graphics import Rectangle
from kivy.graphics.texture import Texture
from kivy.uix.widget import Widget

from screens.widgets.drawn import untinted

# Light modules around a code: ISO/IEC 18004, 6.3.8 (a quiet zone of 4).
MARGIN = 4


class Code(Widget):
    """Shows one text as a QR code, dark on white whatever the look: that is what scanners read best."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self._texture: Texture | None = None
        self._across = 1
        for name in ("pos", "size"):
            self.fbind(name, self._draw)

    def tell(self, text: str) -> None:
        """Show this text at error correction M, which a smeared screen still lets through."""
        matrix = [bytes(row) for row in segno.make_qr(text, error="m", boost_error=False).matrix]
        self._across = len(matrix) + 2 * MARGIN
        edge = bytes([255]) * self._across
        side = bytes([255]) * MARGIN
        lines = [side + bytes(0 if dark else 255 for dark in row) + side for row in matrix]
        pixels = b"".join([edge] * MARGIN + lines[::-1] + [edge] * MARGIN)
        self._texture = Texture.create(size=(self._across, self._across), colorfmt="luminance")
        self._texture.mag_filter = self._texture.min_filter = "nearest"
        self._texture.blit_buffer(pixels, colorfmt="luminance", bufferfmt="ubyte")
        self._draw()

    def _draw(self, *_: Any) -> None:
        self.canvas.clear()
        if self._texture is None:
            return
        # Whole pixels a module, so that none is wider than its neighbour.
        module = max(1, int(min(self.width, self.height) // self._across))
        size = module * self._across
        with self.canvas:
            untinted()
            Rectangle(
                texture=self._texture,
                pos=(round(self.center_x - size / 2), round(self.center_y - size / 2)),
                size=(size, size),
            )
