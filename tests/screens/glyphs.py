"""Which characters of a text a font has no glyph for."""

from __future__ import annotations

from collections.abc import Iterable

from PIL import ImageFont

_NEVER_A_GLYPH = "\uffff"
"""Not a character by the Unicode standard, so every font draws its sign for a missing glyph."""


def missing_glyphs(texts: Iterable[str], font_file: str) -> set[str]:
    """Give the characters in these texts that the font draws as its sign for a missing glyph, spaces left
    out."""
    font = ImageFont.truetype(font_file, 64)
    missing = bytes(font.getmask(_NEVER_A_GLYPH))
    characters = {char for text in texts for char in text if not char.isspace()}
    return {char for char in characters if bytes(font.getmask(char)) == missing}
