"""The engine's values in words: ids of steps, commands and values, days, and its reasons, in the language in use.

What the unit wrote itself stays as it is. A reason that the record keeps is known again by its words.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Mapping
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from protocols.errors import BasinbellError
from protocols.model import NEEDS
from protocols.reasons import KEPT, Aside
from protocols.refusals import Refusal
from screens.moments import day_words, full_day_words
from screens.words import fields, has, language, say, shipped

_NEED_OF = {text: name for name, text in NEEDS.items()}
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?[+-]\d\d:\d\d")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def refused(no: Refusal, name_of: Callable[[str], str] = str) -> tuple[str, str]:
    """Promise why the door refused and what to do, in the language in use; `name_of` gives a person's name by the id.

    As the door said it where no message has its key or its values.
    """
    values = shown(no.values)
    for who in ("by", "holder"):
        if who in values:
            values[who] = Shown(name_of(str(values[who])))
    parts = (f"refuse.{no.key}.why", f"refuse.{no.key}.remedy")
    if not all(has(part) and fields(part) <= values.keys() for part in parts):
        return no.why, no.remedy
    return say(parts[0], **values), say(parts[1], **values)


class Shown(str):
    """A value in words; where a message quotes it, in the quotation marks of the language."""

    __slots__ = ()

    def __repr__(self) -> str:
        return say("value.quoted", words=str(self))


def step_words(step: str) -> str:
    """Promise a short name of a step by its id: from the catalogue, else from the id itself."""
    key = f"step.{step}"
    return say(key) if has(key) else step.replace("-", " ").capitalize()


def do_words(command: str) -> str:
    """Promise what a command does, by its name."""
    key = f"do.{command}"
    return say(key) if has(key) else command


def in_words(text: str) -> str:
    """Promise a reason or notice of the engine in the language in use; any other text as it is."""
    if isinstance(text, Aside):
        return say(f"reason.{text.key}", **shown(text.values))
    return _kept_in(text, language())


def error_words(error: BasinbellError) -> str:
    """Promise why something failed, in the language in use as far as the error knows its words."""
    why = error.args[0] if error.args else ""
    return in_words(why) if isinstance(why, Aside) else str(error)


@lru_cache(maxsize=512)
def _kept_in(text: str, code: str) -> str:
    parts, said = text.split("; "), []
    while parts:
        # Reasons stand one after the other, and one may itself hold what stands between two.
        for count in range(len(parts), 0, -1):
            whole = _known("; ".join(parts[:count]))
            if whole:
                break
        said.append(whole or shipped(parts[0]))
        parts = parts[count:]
    return "; ".join(said)


def _known(text: str) -> str:
    for key, pattern in _PATTERNS:
        found = pattern.fullmatch(text)
        if found is not None:
            return say(f"reason.{key}", **shown(found.groupdict()))
    return ""


# A reason within a reason may hold what stands between two; no other value does.
_VALUES = {"why": ".+", "origin": "procedure end|preclean start|preclean end", "done": "yes|no|unknown|[0-9:]+"}


def _pattern(words: str) -> re.Pattern[str]:
    parts: list[str] = []
    named: set[str] = set()
    for literal, name, _, _ in string.Formatter().parse(words):
        parts.append(re.escape(literal))
        if name is not None:
            parts.append(f"(?P={name})" if name in named else f"(?P<{name}>{_VALUES.get(name, '[^;]+')})")
            named.add(name)
    return re.compile("".join(parts))


# Those with most words of their own first, so that none is taken for a shorter one.
_PATTERNS = [(key, _pattern(words)) for key, words in sorted(KEPT.items(), key=lambda one: -len(one[1]))]


def shown(values: Mapping[str, Any]) -> dict[str, Any]:
    """Promise the values of a refusal or reason as a person reads them, by name; numbers stay numbers."""
    return {name: _one(name, value) for name, value in values.items()}


def _one(name: str, value: Any) -> Any:
    if isinstance(value, date):
        return Shown(full_day_words(value))
    if not isinstance(value, str):
        return value
    if isinstance(value, Aside):
        return Shown(in_words(value))
    moment = _moment_words(value) if name in _DATED else ""
    return Shown(moment or (_WORDED[name](value) if name in _WORDED else value))


# Values of these names may be a day or a moment. A lot or a tag may look like one, and stays as it is printed.
_DATED = frozenset(("a", "at", "b", "date", "given", "held", "now", "poured", "scanned", "since", "typed", "value"))


def _moment_words(text: str) -> str:
    try:
        if _DAY.fullmatch(text):
            return full_day_words(date.fromisoformat(text))
        if _MOMENT.fullmatch(text):
            moment = datetime.fromisoformat(text)
            return say("value.day_and_time", day=day_words(moment.date()), time=f"{moment:%H:%M}")
    except ValueError:
        pass  # in the form of a day, and none
    return ""


def _by(kind: str) -> Callable[[str], str]:
    """Give what says an id of a kind: a message of the catalogue where there is one, else the id."""

    def words(value: str) -> str:
        key = f"{kind}.{value}"
        return say(key) if has(key) else shipped(value)

    return words


def _listed(one: Callable[[str], str]) -> Callable[[str], str]:
    def words(value: str) -> str:
        return ", ".join(one(part) for part in value.split(", "))

    return words


def _missing(value: str) -> str:
    if any(part in _NEED_OF for part in value.split("; ")):
        return "; ".join(say(f"need.{_NEED_OF[part]}") if part in _NEED_OF else part for part in value.split("; "))
    return _listed(_by("value"))(value)


def _what(value: str) -> str:
    key = f"word.{value}"
    return say(key) if has(key) else in_words(value)


def _sentence(value: str) -> str:
    return shipped(value).rstrip(".")


# How a value of that name is put into words; every other name holds a label, a tag or a figure, and stays.
_WORDED: dict[str, Callable[[str], str]] = {
    "step": step_words, "target": step_words, "says": _sentence, "why": in_words, "what": _what, "do": do_words,
    "role": _by("role"), "kind": _by("word"), "use": _by("use"), "needed": _by("word"), "way": _by("word"),
    "place": _by("word"), "outcome": _by("word"), "origin": _by("word"), "done": _by("word"),
    "leak": _by("word.result"), "looked": _by("word.result"), "decision": _by("decide"),
    "words": _listed(_by("outcome")), "grades": _listed(_by("water")),
    "name": _by("value"), "first": _by("value"), "second": _by("value"),
    "missing": _missing, "title": _by("word"), "held": _by("word"), "added": _by("word"), "source": shipped,
    "disagree": shipped, "type": shipped,
}  # fmt: skip
