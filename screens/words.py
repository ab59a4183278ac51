"""Every word shown or spoken, by id; English is complete.

A page never holds a sentence of its own: it asks `say("id", name=value)`. Other languages add a catalogue of
the same ids; an id that a language lacks is shown in English rather than not at all.
"""

from __future__ import annotations

import string
from collections.abc import Callable, Mapping
from types import MappingProxyType

from protocols.errors import BasinbellError
from protocols.reasons import Aside
from screens.catalogue import check_catalogue
from screens.words_alarms import ALARM_WORDS
from screens.words_bench import BENCH_WORDS
from screens.words_between import BETWEEN_WORDS
from screens.words_engine import ENGINE_WORDS
from screens.words_look import LOOK_WORDS
from screens.words_pages import PAGE_WORDS
from screens.words_people import PEOPLE_WORDS
from screens.words_planning import PLANNING_WORDS
from screens.words_plural import PLURALS
from screens.words_refusals import REFUSAL_WORDS
from screens.words_send import SEND_WORDS
from screens.words_setup import SETUP_WORDS
from screens.words_shell import SHELL_WORDS
from screens.words_solutions import SOLUTION_WORDS
from screens.words_steps import STEP_WORDS
from screens.words_trouble import TROUBLE_WORDS
from screens.words_watch import WATCH_WORDS
from screens.words_week import WEEK_WORDS


class WordsMissing(KeyError):
    """A message id, or a value that it names, is missing: a defect of the caller."""


_WIDGET_WORDS = {
    # coil
    "coil.over": "OVER",
    # dirty and clean
    "state.not_disinfected": "NOT DISINFECTED",
    "state.disinfected": "DISINFECTED, NOT RELEASED",
    "state.released": "RELEASED",
    # counts and steps
    "pips.count": "{done} of {needed}",
    "steps.place": "step {at} of {of}",
    # timeline
    "timeline.title": "next {minutes} minutes",
    "timeline.more": "{count} more not drawn",
    "timeline.empty": "no hands needed",
    # keypad
    "keypad.erase": "Erase",
    "keypad.done": "Done",
    "keypad.space": "Space",
    # tabs
    "tab.bench": "Bench",
    "tab.watch": "Watch",
    "tab.watch_count": "Watch {count}",
    "tab.ledger": "Ledger",
    "tab.send": "Send",
    "tab.setup": "Setup",
    # what cannot be sensed, for the Bench
    "sense.chime": "sound",
    "sense.buzz": "vibration",
    "sense.speak": "speech",
    "sense.keep_awake": "staying awake",
    "sense.cannot": "No {sense}: {why}",
    "sense.cannot.alarms": "Prompts only while the screen is on: {why}",
    "why.off": "switched off on this handheld",
    "why.no_sound_device": "no sound device answers",
    "why.not_loaded": "the sounds are not loaded yet",
    "why.no_vibrator": "this device has no vibrator",
    "why.no_voice": "no voice is installed",
    "why.voice_failed": "the voice does not answer",
    "why.no_alarms": "this device refuses alarms",
    "why.no_exact_alarms": "exact alarms are not allowed; Setup, This handheld",
    "why.notices_refused": "notices are not allowed; Setup, This handheld",
    "why.no_picker": "this device offers no page to pick a folder",
    "why.no_window": "the screen is not ready",
    "why.failed": "the device refused it",
}

ENGLISH: Mapping[str, str] = MappingProxyType(
    {
        **BENCH_WORDS,
        **BETWEEN_WORDS,
        **ENGINE_WORDS,
        **LOOK_WORDS,
        **PAGE_WORDS,
        **PEOPLE_WORDS,
        **PLANNING_WORDS,
        **SEND_WORDS,
        **SHELL_WORDS,
        **ALARM_WORDS,
        **REFUSAL_WORDS,
        **STEP_WORDS,
        **WATCH_WORDS,
        **TROUBLE_WORDS,
        **WEEK_WORDS,
        **SETUP_WORDS,
        **SOLUTION_WORDS,
        **_WIDGET_WORDS,
    }
)

Form = Callable[[str, int], str]
# A count up to which every plural form of any language has come up; grammars go by the last two figures at most.
_FORMS_UP_TO = 200

_catalogues: dict[str, Mapping[str, str]] = {"en": ENGLISH}
_forms: dict[str, Form] = {
    "en": lambda message_id, count: PLURALS[message_id][1] if count == 1 else ENGLISH[message_id]
}
_shipped: dict[str, Callable[[str], str]] = {}
_language = "en"


def add_language(
    code: str, catalogue: Mapping[str, str], form: Form | None = None, shipped: Callable[[str], str] | None = None
) -> None:
    """Offer a language; raises WordsMissing when it holds an id that English does not have.

    `form` gives a message that counts in the form for a number, `shipped` a sentence of a shipped protocol. Raises
    CatalogueFault for a tag or text that can't be used: too long, not a text, or naming other values.
    """
    check_catalogue(code, catalogue, ENGLISH)
    if form is not None:
        for count in range(_FORMS_UP_TO):
            check_catalogue(code, {message_id: form(message_id, count) for message_id in PLURALS}, ENGLISH)
        _forms[code] = form
    if shipped is not None:
        _shipped[code] = shipped
    unknown = sorted(set(catalogue) - set(ENGLISH))
    if unknown:
        raise WordsMissing(
            f"language {code!r} has ids that English lacks: {', '.join(unknown)}; correct or remove them"
        )
    _catalogues[code] = catalogue


def use_language(code: str) -> None:
    """Make every later `say` answer in this language; raises WordsMissing when it was never added."""
    global _language
    if code not in _catalogues:
        raise WordsMissing(f"there is no language {code!r}; add it first, there are {', '.join(_catalogues)}")
    _language = code


def say(message_id: str, **values: object) -> str:
    """Give the words of a message with its values filled in.

    Raises WordsMissing when the id is unknown or when a value that the message names was not given.
    """
    words = _catalogues[_language].get(message_id) or ENGLISH.get(message_id)
    if message_id in PLURALS:
        count = values.get(PLURALS[message_id][0])
        # A part of one is said like several, as half a day is 0.5 days.
        words = _forms.get(_language, _forms["en"])(message_id, count if isinstance(count, int) else 2)
    if words is None:
        raise WordsMissing(f"no message has the id {message_id!r}; add it to the English catalogue")
    why = values.get("why")
    if isinstance(why, BasinbellError):
        values["why"] = _told(why.args[0] if why.args else "")
    try:
        return words.format(**values)
    except (KeyError, IndexError) as missing:
        raise WordsMissing(f"message {message_id!r} needs the value {missing}; got {sorted(values)}") from missing


def _told(value: object) -> object:
    """An error's reason in the language in use where it knows its words; anything else as it is."""
    if not isinstance(value, Aside):
        return value
    return say(f"reason.{value.key}", **{name: _told(part) for name, part in value.values.items()})


def shipped(text: str) -> str:
    """Give a sentence of a shipped protocol in the language in use; one that the unit wrote itself stays as it is.

    The record holds the text that was adopted, whatever language it was read in.
    """
    translate = _shipped.get(_language)
    return translate(text) if translate is not None and text else text


def language() -> str:
    """Give the code of the language in use."""
    return _language


def has(message_id: str) -> bool:
    """Say whether there is a message with this id."""
    return message_id in ENGLISH


def fields(message_id: str, language: str = "en") -> set[str]:
    """Give the names of the values that a message needs, so that a test can compare languages."""
    return {name for _, name, _, _ in string.Formatter().parse(_catalogues[language][message_id]) if name}
