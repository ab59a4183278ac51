"""A scanner that acts as a keyboard: text that ends in Enter. It also serves a real keyboard beside the handheld."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from protocols.chunks import CHUNK_LONGEST, is_chunk
from protocols.labels import LONGEST, SEPARATOR

ENTER = (13, 271)
ESCAPE = 27
BACKSPACE = 8
# The separator of a GS1 label comes as its own character, or as the keys that type it: Ctrl and the closing bracket.
SEPARATOR_KEY = ord("]")


class Scanner:
    """Gathers characters and gives the whole text once, at Enter. `take` shows a page each character as it comes."""

    def __init__(self, done: Callable[[str], None]) -> None:
        self._done = done
        self._text = ""
        self._by_key = ""
        self.back: Callable[[], bool] = lambda: False

    @property
    def text(self) -> str:
        """Give what has come since the last Enter."""
        return self._text

    def key(self, _: Any, key: int, __: Any = None, codepoint: str | None = None, modifiers: Any = ()) -> bool:
        """Take a key from the window; answer True, so that no key ever closes the app or reaches a widget."""
        if key == ESCAPE:
            self._text = ""
            return self.back()
        if key in ENTER:
            text, self._text, self._by_key = self._text.strip(" "), "", ""
            if text:
                self._done(text)
        elif key == BACKSPACE:
            self._text = self._text[:-1]
        elif codepoint == SEPARATOR or key == ord(SEPARATOR) or (key == SEPARATOR_KEY and "ctrl" in (modifiers or ())):
            self._add(SEPARATOR)
        elif codepoint and codepoint.isprintable() and not {"ctrl", "alt", "meta"} & set(modifiers or ()):
            char = codepoint.upper() if "shift" in (modifiers or ()) else codepoint
            self._by_key = char
            self._add(char)
        return True

    def typed(self, _: Any, text: str) -> bool:
        """Take text from the window. Where a system sends both key and text, the text wins: it knows the layout."""
        if self._by_key and len(text) == 1:
            self._text = self._text[:-1]
        self._by_key = ""
        self._add(text)
        return True

    def _add(self, text: str) -> None:
        # Some systems send a separator both as a key and as text; two in a row never mean anything.
        if text == SEPARATOR and self._text.endswith(SEPARATOR):
            return
        # Beyond the longest label a stuck key must not fill the memory.
        longest = CHUNK_LONGEST if is_chunk(self._text) else LONGEST
        if (text.isprintable() or text == SEPARATOR) and len(self._text) + len(text) <= longest:
            self._text += text
