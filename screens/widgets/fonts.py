"""Which font files are used, and whether they hold the characters of a text.

Roboto as shipped inside Kivy is used (Apache Licence 2.0, which permits shipping it). All ten figures of
Roboto are equally wide, so a running time does not jump. Signs are drawn by the widgets, never typed: Roboto
has no arrows, ticks or warning signs.
"""

from __future__ import annotations

from pathlib import Path

import kivy

_FOLDER = Path(kivy.__file__).parent / "data" / "fonts"
REGULAR = str(_FOLDER / "Roboto-Regular.ttf")
BOLD = str(_FOLDER / "Roboto-Bold.ttf")


def font_file(bold: bool) -> str:
    """Give the path of the font file for a weight."""
    return BOLD if bold else REGULAR
