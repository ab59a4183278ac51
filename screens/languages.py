"""The languages that the app ships: catalogues compiled by gettext, read with the standard library alone.

Each catalogue (`screens/catalogues/<code>.po`, compiled to `.mo`) holds every message under its id (as context) and the
sentences of the shipped protocols under the context "shipped". `python3 -m tests.languages` keeps them in step.
"""

from __future__ import annotations

import gettext
import struct
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from screens import words
from screens.words_plural import PLURALS

FOLDER = Path(__file__).parent / "catalogues"
SHIPPED_TEXTS = "shipped"
DEFAULT = "en"
# Each language by its own name, as a person looks for it.
NAMES: Mapping[str, str] = MappingProxyType({"en": "English", "de": "Deutsch", "es": "Español"})

_added: set[str] = set()
# What gettext raises for a file that is no catalogue of its own; CatalogueFault is a ValueError.
_DAMAGED = (ValueError, struct.error, LookupError, AttributeError, TypeError)


def use(code: str) -> None:
    """Promise that every later `say` answers in this language; one that is not shipped, or damaged, is English.

    Nothing in words protects a patient more than being read, so a damaged catalogue is no reason not to start.
    """
    if code != DEFAULT and code in NAMES and code not in _added:
        try:
            add(code, FOLDER / f"{code}.mo")
        except (OSError, words.WordsMissing, *_DAMAGED):
            code = DEFAULT
    words.use_language(code if code in NAMES else DEFAULT)


def add(code: str, path: Path) -> None:
    """Offer the language of a compiled catalogue. Raises OSError, CatalogueFault (a ValueError) or WordsMissing."""
    with path.open("rb") as file:
        found = gettext.GNUTranslations(file)
    texts = {}
    for message_id, english in words.ENGLISH.items():
        if message_id not in PLURALS:
            text = found.pgettext(message_id, english)
            if text != english:
                texts[message_id] = text

    def form(message_id: str, count: int) -> str:
        return found.npgettext(message_id, PLURALS[message_id][1], words.ENGLISH[message_id], count)

    def shipped(text: str) -> str:
        return found.pgettext(SHIPPED_TEXTS, text)

    words.add_language(code, texts, form, shipped)
    _added.add(code)
