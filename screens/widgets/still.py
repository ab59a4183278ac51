"""Still: what rarely changes is drawn once into a picture, and each second only the picture is shown.

Dozens of texts and shapes cost more each time than one picture of them all. Kivy knows when something within has
changed and only then draws the picture anew; what does change every second stands beside a still, not in it.
"""

from __future__ import annotations

from typing import Any

from kivy.clock import Clock
from kivy.graphics import Callback, ClearBuffers, ClearColor, Fbo, PopMatrix, PushMatrix, Rectangle, Translate
from kivy.graphics.opengl import GL_ONE, GL_ONE_MINUS_SRC_ALPHA, GL_SRC_ALPHA, glBlendFunc, glBlendFuncSeparate
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.drawn import untinted
from screens.widgets.text import crisp


class Still(Widget):
    """Shows one widget as a picture. It lies where the still lies and sets the still's height by its own.

    `ground` is the role of the colour that lies under it: the picture is opaque, so it is painted in.
    """

    def __init__(self, child: Widget, ground: str = "ground", **kwargs: Any) -> None:
        self._child = child
        # A tuple: Kivy's own list of a size stays tied to the widget that it came from.
        super().__init__(size=tuple(child.size), **kwargs)
        self.size_hint_x, self.size_hint_y = child.size_hint_x, child.size_hint_y
        self._size_px = (0, 0)
        with self.canvas:
            self._picture = Fbo(size=(1, 1))
            untinted()
            self._shown = Rectangle()
        with self._picture:
            Callback(_keep_opaque)
            ClearColor(*theme.rgba(ground))
            ClearBuffers()
            PushMatrix()
            self._shift = Translate()
        self._picture.add(child.canvas)
        with self._picture:
            PopMatrix()
            Callback(_as_before)
        child.parent = self
        self.children.append(child)
        self._fit = Clock.create_trigger(self._fit_now, -1)
        child.fbind("height", self._follow)
        for name in ("x", "y", "width", "height"):
            self.fbind(name, self._lead)
        self._lead()

    def _follow(self, *_: Any) -> None:
        if self.size_hint_y is None:
            self.height = self._child.height

    def _lead(self, *_: Any) -> None:
        self._child.width = self.width
        if self.size_hint_y is not None:
            self._child.height = self.height
        self._child.x, self._child.y = self.x, self.y
        self._fit()

    def _fit_now(self, *_: Any) -> None:
        left, low = round(self.x), round(self.y)
        size = max(1, round(self.x + self.width) - left), max(1, round(self.y + self.height) - low)
        if size != self._size_px:
            self._size_px = self._picture.size = self._shown.size = size
            crisp(self._picture.texture)
            self._shown.texture = self._picture.texture
        self._shift.xy = -left, -low
        self._shown.pos = left, low


def _keep_opaque(_: Any) -> None:
    # Kivy's own blending would leave a soft edge half transparent in the picture, and what lies below shine through.
    glBlendFuncSeparate(GL_SRC_ALPHA, GL_ONE_MINUS_SRC_ALPHA, GL_ONE, GL_ONE_MINUS_SRC_ALPHA)


def _as_before(_: Any) -> None:
    glBlendFunc(GL_SRC_ALPHA, GL_ONE_MINUS_SRC_ALPHA)
