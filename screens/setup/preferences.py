"""What one handheld keeps for itself: theme, language, sounds, speech, vibration. Not part of the record; no window."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

from data.disk import Disk
from protocols.errors import DiskError
from screens import languages, theme

if TYPE_CHECKING:
    from screens.senses.choose import Senses

FILE = "preferences.json"
_CHOICES = {"theme": tuple(theme.THEMES), "language": tuple(languages.NAMES)}


@dataclass(frozen=True, slots=True)
class Preferences:
    """The choices of this handheld; the defaults are those of a new one."""

    theme: str = theme.DEFAULT_THEME
    language: str = languages.DEFAULT
    sounds: bool = True
    speech: bool = True
    vibration: bool = True
    # Whether the person was once asked to allow alarms; after that only the Bench and the Setup say so.
    alarms_asked: bool = False


def load(disk: Disk) -> Preferences:
    """Promise the preferences kept on this handheld; what is missing, damaged or unknown is as on a new one.

    Nothing in them protects a patient, so damage is no reason not to start: sounds come back on.
    """
    try:
        plain = json.loads(disk.read(FILE)) if disk.exists(FILE) else {}
    except (DiskError, ValueError, RecursionError):
        return Preferences()
    if not isinstance(plain, dict):
        return Preferences()
    known = {}
    for field in fields(Preferences):
        value = plain.get(field.name)
        if field.name in _CHOICES:
            fits = isinstance(value, str) and value in _CHOICES[field.name]
        else:
            fits = isinstance(value, bool)
        if fits:
            known[field.name] = value
    return Preferences(**known)


def save(disk: Disk, preferences: Preferences) -> None:
    """Promise that the preferences are kept, whole or not at all. Raises DiskError."""
    disk.replace(FILE, json.dumps(asdict(preferences), indent=1).encode() + b"\n")


def look_as(preferences: Preferences) -> None:
    """Promise that what is built from now on has the theme and the language chosen."""
    theme.use(preferences.theme)
    languages.use(preferences.language)


def follow(preferences: Preferences, senses: Senses) -> None:
    """Promise that looks and senses are as chosen from now on; what was built before keeps its theme and words."""
    look_as(preferences)
    senses.speak.language = preferences.language
    senses.chime.volume = 1.0 if preferences.sounds else 0.0
    senses.speak.on = preferences.speech
    senses.buzz.on = preferences.vibration
