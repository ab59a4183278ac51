"""A language that nobody speaks: every letter of the English words in another alphabet, values left as they are.

What is still Latin on a page in it never went through the catalogue.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable

from screens import words
from screens.words_plural import PLURALS
from tests.languages import shipped_texts

CODE = "zz"
_MOVED = str.maketrans({
    letter: chr(0x430 + at + (0 if letter.islower() else -0x20))
    for letters in (string.ascii_lowercase, string.ascii_uppercase)
    for at, letter in enumerate(letters)
})  # fmt: skip
# Two letters at least and no figure beside them: units, tags and labels are no words.
_WORD = re.compile(r"(?<![\w°µ/.-])[A-Za-z]{2,}(?:[-'][a-z]+)*(?![\w/.-])")


def use() -> None:
    """Make every later `say` answer in the language that nobody speaks."""
    texts = {name: _moved(english) for name, english in words.ENGLISH.items() if name not in PLURALS}
    known = set(shipped_texts())

    def form(name: str, count: int) -> str:
        return _moved(PLURALS[name][1] if count == 1 else words.ENGLISH[name])

    def shipped(text: str) -> str:
        return text.translate(_MOVED) if text in known else text

    words.add_language(CODE, texts, form, shipped)
    words.use_language(CODE)


def left_in_english(text: str, own: Iterable[str] = ()) -> list[str]:
    """Give the words of a text that were not put into the language; `own` are texts of the unit, to be left out."""
    for one in sorted(own, key=len, reverse=True):
        text = text.replace(one, " ")
    return _WORD.findall(text)


def _moved(english: str) -> str:
    parts = []
    for literal, name, spec, how in string.Formatter().parse(english):
        parts.append(literal.translate(_MOVED))
        if name is not None:
            parts.append("{" + name + (f"!{how}" if how else "") + (f":{spec}" if spec else "") + "}")
    return "".join(parts)
