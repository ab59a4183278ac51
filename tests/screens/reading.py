"""What is on the screen, read from the widget tree: which texts are seen, where, and whether they are whole.

Import it through the harness, which sets the environment before Kivy is imported.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kivy.core.window import Window
from kivy.uix.label import Label
from kivy.uix.widget import Widget

from screens.widgets.figure import Figure


def text_box(label: Label) -> tuple[float, float, float, float]:
    """Give left, low, right and high of the drawn words of a label in window pixels.

    Kivy pads a texture to the size asked for (`text_size`), so the words themselves are measured line by
    line.
    """
    label_left, label_low = label.to_window(label.x, label.y)
    if isinstance(label, Figure):
        wide, tall = label.text_size_px
        low = label_low + (label.height - tall) / 2.0
        return label_left, low, label_left + wide, low + tall
    wide = max((line.w for line in getattr(label._label, "_cached_lines", [])), default=label.texture_size[0])
    tall = sum(line.h for line in getattr(label._label, "_cached_lines", [])) or label.texture_size[1]
    shift = {"left": 0.0, "auto": 0.0, "center": (label.width - wide) / 2.0, "right": label.width - wide}[label.halign]
    low = label_low + (label.height - tall) / 2.0
    return label_left + shift, low, label_left + shift + wide, low + tall


def broken_words(label: Label) -> str:
    """Say what is wrong when words of a label were dropped or split, else an empty text."""
    if isinstance(label, Figure):  # one line by its nature
        return ""
    lines = ["".join(word.text for word in line.words) for line in label._label._cached_lines]
    shown, meant = "".join("".join(lines).split(" ")), "".join(label.text.replace("\n", " ").split(" "))
    if shown != meant:
        return f"only {' / '.join(lines)!r} of it is shown"
    whole = set(label.text.replace("\n", " ").split(" "))
    split = [word for line in lines for word in line.split(" ") if word and word not in whole]
    return f"broken inside a word: {' / '.join(lines)!r}" if split else ""


def has_text(widget: Widget) -> bool:
    return isinstance(widget, Label | Figure) and bool(widget.text)


def walk(widget: Widget | None) -> Iterator[Widget]:
    if widget is None:
        return
    yield widget
    for child in reversed(widget.children):
        yield from walk(child)


def visible(widget: Any) -> bool:
    left, low = widget.to_window(widget.x, widget.y)
    on_screen = left < Window.width and low < Window.height and left + widget.width > 0 and low + widget.height > 0
    while isinstance(widget, Widget):
        if widget.opacity == 0:
            return False
        widget = widget.parent
    return bool(on_screen)
