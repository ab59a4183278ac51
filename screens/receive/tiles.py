"""Answers as tiles, in rows of as many as fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from kivy.metrics import dp
from kivy.uix.widget import Widget

from screens import theme
from screens.widgets.button import BigButton, ButtonRow
from screens.widgets.text import width_px


def tile_rows(page_width: float, tiles: Sequence[BigButton], words: Sequence[str], step: str) -> list[Widget]:
    """Promise tiles in rows of as many as the widest of the words allows; `step` is a type step of the theme."""
    for one in tiles:
        one.set_step(step)
    width = max(1.0, page_width - 2 * dp(theme.MARGIN_DP))
    widest = max(width_px(word, step, bold=True) for word in words) * 1.05 + 2 * dp(theme.PAD_DP)
    in_row = max(2, min(4 if step == "button" else 3, int((width + dp(8)) // (widest + dp(8)))))
    rows: list[Widget] = []
    for at in range(0, len(tiles), in_row):
        row = ButtonRow(list(tiles[at : at + in_row]))
        for _ in range(in_row - len(row.children)):
            row.add_blank()
        rows.append(row)
    return rows


def tile(words: str, press: Callable[[], None]) -> BigButton:
    """Promise a plain button that does something when pressed."""
    made = BigButton(words, look="plain")
    made.bind(on_command=lambda *_: press())
    return made
