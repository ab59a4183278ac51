"""Whether a catalogue of another language can be trusted with the app's values. Needs no window.

A text of it is filled in with `str.format`, which can reach into objects and make texts of any length; so it may name
only the values that the English text names, and spell each as that does.
"""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from typing import Any

# Some six times the longest English text; the pages clip nothing, they break and turn leaves.
TEXT_LONGEST = 1_000
# Language tags as BCP 47 has them: a language of two to eight letters, then parts of up to eight characters.
_CODE = re.compile(r"[a-z]{2,8}(-[A-Za-z0-9]{1,8}){0,4}")


class CatalogueFault(ValueError):
    """A catalogue of another language can't be used; its author must mend it."""


def check_catalogue(code: Any, catalogue: Any, english: Mapping[str, str]) -> None:
    """Raise CatalogueFault, naming the first id at fault, unless every text fits its English one.

    Ids that English does not have are left to the caller.
    """
    if not isinstance(code, str) or not _CODE.fullmatch(code):
        raise CatalogueFault(f"{code!r:.60} is not a language tag; write it like de or pt-BR (BCP 47)")
    if code == "en":
        raise CatalogueFault("English is part of the app and what other languages fall back to; choose another tag")
    if not isinstance(catalogue, Mapping):
        raise CatalogueFault(f"the catalogue of {code} is a {type(catalogue).__name__}, it must map ids to texts")
    for message_id, words in catalogue.items():
        if not isinstance(message_id, str):
            raise CatalogueFault(f"the catalogue of {code} has an id that is no text: {message_id!r:.60}")
        fault = _fault(words, english.get(message_id, ""))
        if fault:
            raise CatalogueFault(f"the catalogue of {code}: {message_id!r:.60}: {fault}; mend it")


def _fault(words: Any, english: str) -> str:
    if not isinstance(words, str) or not words.strip():
        return "it is not a text"
    if len(words) > TEXT_LONGEST:
        return f"it has {len(words)} characters, at most {TEXT_LONGEST} are taken"
    if not words.replace("\n", " ").isprintable():
        return "it holds a control character"
    try:
        found = _placed(words)
    except ValueError as error:
        return f"its braces do not pair ({error})"
    strange = found - _placed(english)
    return f"it names {min(strange)}, which the English text does not" if strange else ""


def _placed(words: str) -> set[str]:
    parts = string.Formatter().parse(words)
    return {
        "{" + name + (f"!{conversion}" if conversion else "") + (f":{spec}" if spec else "") + "}"
        for _, name, spec, conversion in parts
        if name is not None
    }
