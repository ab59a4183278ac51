"""Words and figures on screen: text that wraps, and text that fits on one line; neither is ever clipped."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from kivy.core.text import Label as CoreLabel
from kivy.metrics import sp
from kivy.uix.label import Label

from screens import theme
from screens.widgets.fonts import font_file

_SMALLEST_SHARE = 0.45
# Text of several lines shrinks less: a path or a hash without a place to break would else become unreadable.
_WORD_SMALLEST_SHARE = 0.7
"""A fitted line may shrink to this share of its step; below it nobody could read it, so it is left to
overflow."""


@lru_cache(maxsize=512)
def _width_at_100(text: str, bold: bool) -> float:
    """Give the width of a line in pixels at a type size of 100 pixels; width grows in proportion to size."""
    label = CoreLabel(font_name=font_file(bold), font_size=100)
    return float(label.get_extents(text)[0])


def width_px(text: str, step: str, bold: bool = False) -> float:
    """Give the width in pixels of one line of text at a type step, at the person's type size."""
    return _width_at_100(text, bold) * sp(theme.step_sp(step)) / 100.0


def crisp(texture: Any) -> None:
    """Let a rendered text be drawn as it is: it always stands pixel for pixel, and smoothing it only costs."""
    if texture is not None:
        texture.mag_filter = texture.min_filter = "nearest"


class Words(Label):
    """Text that wraps to the width it is given and is as tall as it needs to be; a long word shrinks it, unbroken.

    `role` and `step` name a colour and a type step of the theme.
    """

    def __init__(
        self, text: str = "", step: str = "body", role: str = "ink", bold: bool = False, **kwargs: Any
    ) -> None:
        self.step = step
        self._bold = bold
        self._most_px = sp(theme.step_sp(step))
        self._least_share = _WORD_SMALLEST_SHARE
        kwargs.setdefault("halign", "left")
        super().__init__(
            text=text,
            font_name=font_file(bold),
            font_size=sp(theme.step_sp(step)),
            color=theme.rgba(role),
            size_hint_y=None,
            **kwargs,
        )
        self.fbind("texture", lambda _, texture: crisp(texture))
        self.fbind("width", self._wrap)
        self.fbind("text", self._wrap)
        self.fbind("texture_size", self._grow)
        self._wrap()
        # Kivy gives every widget 100 pixels at first; an empty text never gets a texture that would correct
        # that.
        self.height = line_height_px(step) if text else 0

    def paint(self, role: str) -> None:
        """Show the text in the colour of another role."""
        self.color = theme.rgba(role)

    def shrink_far(self) -> None:
        """Let a long word shrink the text as far as a line may: for short words of ours, which are never a path."""
        self._least_share = _SMALLEST_SHARE
        self._wrap()

    def set_step(self, step: str) -> None:
        """Set the text in another type step of the theme."""
        self._most_px = sp(theme.step_sp(step))
        self._wrap()

    def _wrap(self, *_: Any) -> None:
        self.font_size = self._size_px()
        self.text_size = (self.width, None)

    def _size_px(self) -> float:
        words = self.text.split()
        # Most words are far from filling a line: measuring those would cost more than drawing them.
        if not words or max(map(len, words)) * self._most_px < self.width or self.width <= 1:
            return self._most_px
        longest = max(words, key=lambda word: _width_at_100(word, self._bold))
        if _width_at_100(longest, self._bold) * self._most_px / 100.0 <= self.width:
            return self._most_px
        size_px = fitting_px(longest, self._bold, self._most_px, self.width)
        return size_px if size_px >= self._most_px * self._least_share - 1 else self._most_px

    def _grow(self, *_: Any) -> None:
        # An empty text takes no room, so that a line that says nothing leaves no gap.
        self.height = self.texture_size[1] if self.text else 0


class Fitted(Label):
    """One line of text that shrinks, when it must, to its width: for tags, times and short words."""

    def __init__(
        self, text: str = "", step: str = "body", role: str = "ink", bold: bool = False, **kwargs: Any
    ) -> None:
        self.step = step
        self._bold = bold
        self._most_px = sp(theme.step_sp(step))
        kwargs.setdefault("halign", "left")
        super().__init__(
            text=text,
            font_name=font_file(bold),
            font_size=sp(theme.step_sp(step)),
            color=theme.rgba(role),
            size_hint_y=None,
            shorten=False,
            **kwargs,
        )
        self.fbind("texture", lambda _, texture: crisp(texture))
        # A fixed line height, so that nothing below moves when the text shrinks.
        self.height = line_height_px(step)
        self.fbind("size", self._fit)
        self.fbind("text", self._fit)
        self._fit()

    def paint(self, role: str) -> None:
        """Show the text in the colour of another role."""
        self.color = theme.rgba(role)

    def never_above(self, size_px: float) -> None:
        """Keep the type at or below a size, so that neighbours can all be equally small."""
        self._most_px = min(size_px, sp(theme.step_sp(self.step)))
        self._fit()

    def _fit(self, *_: Any) -> None:
        self.font_size = fitting_px(self.text, self._bold, self._most_px, self.width)
        self.text_size = (self.width, self.height)
        self.valign = "middle"


def fitting_px(text: str, bold: bool, most_px: float, width: float) -> float:
    """Give the type size, at most `most_px`, at which a line fits a width."""
    needed = _width_at_100(text, bold) * most_px / 100.0
    # Hinting widens small type by a pixel or two; without this room it would wrap.
    room = width * 0.96 - 1.0
    if needed <= room or needed == 0:
        return most_px
    return float(int(most_px * max(room / needed, _SMALLEST_SHARE)))


def line_height_px(step: str) -> float:
    """Give the height in pixels of one line at a type step, at the person's type size."""
    return sp(theme.step_sp(step)) * 1.2
