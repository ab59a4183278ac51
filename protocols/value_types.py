"""The types that a command's values have: what each accepts, whatever the command."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

from protocols.case_reference import pattern_fault
from protocols.clock import parse_date, zone
from protocols.errors import CommandFault
from protocols.wall import given_wall

# Longest text anybody types on a handheld, and the longest protocol text (a loader limit too). Beyond is an accident.
TEXT_MAX = 200
TOML_MAX = 262_144
# A cycle of several hundred events with all its figures.
MESSAGE_MAX = 2_097_152
_HEX = re.compile(r"([0-9a-f]{2}){16,64}")


def _is_number(value: Any) -> bool:
    if isinstance(value, int):  # of any length; too long a one can't even be asked whether it is finite
        return not isinstance(value, bool) and abs(value) < 2**53
    return isinstance(value, float) and math.isfinite(value)


def is_text(value: Any, longest: int = TEXT_MAX) -> bool:
    """Promise whether the value is a text that says something, of at most so many characters."""
    return isinstance(value, str) and len(value.strip()) > 0 and len(value) <= longest


def _parses(reader: Callable[[str], object]) -> Callable[[Any], bool]:
    def test(value: Any) -> bool:
        try:
            reader(value)
        except (CommandFault, TypeError):
            return False
        return True

    return test


# Each type of a value by name: what it accepts, and in words what it wants.
TYPES: dict[str, tuple[Callable[[Any], bool], str]] = {
    "text": (is_text, f"text of 1 to {TEXT_MAX} characters"),
    "toml": (lambda v: is_text(v, TOML_MAX), f"TOML text of at most {TOML_MAX} characters"),
    "message": (lambda v: is_text(v, MESSAGE_MAX), f"a message of at most {MESSAGE_MAX} characters"),
    "choice": (lambda v: isinstance(v, str), "one of the choices"),
    "number": (_is_number, "a number"),
    "whole": (lambda v: _is_number(v) and v == int(v), "a whole number"),
    "scan": (lambda v: isinstance(v, str) and 0 < len(v) <= TEXT_MAX, f"a scan of 1 to {TEXT_MAX} characters"),
    "bool": (lambda v: isinstance(v, bool), "true or false"),
    "date": (_parses(parse_date), "a date like 2026-11-25"),
    "time": (_parses(given_wall), "a time like 2026-11-25T10:42:00+01:00, in the years 1970 to 9998"),
    "hex": (lambda v: isinstance(v, str) and bool(_HEX.fullmatch(v)), "16 to 64 bytes as small hex digits"),
    "pattern": (lambda v: isinstance(v, str) and not pattern_fault(v), 'a pattern with a digit, like "99-9999"'),
    "zone": (_parses(zone), "an IANA time zone such as Europe/Berlin"),
}
