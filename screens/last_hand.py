"""Who was signed in when the app ended, as far as the record proves it. Needs no window.

A start after a kill lands where it was, and with whom: asking for a name at every start would cost a tap with wet
gloves. It takes up only what an app that was never closed would still hold: the idle lock had not struck yet, in the
same boot, by the elapsed clock alone. Where two people gave commands in that time, the record does not tell who of
them stayed signed in (a lead may have come for one tap), and so the app asks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from protocols.clock import Reading
from protocols.unit import Unit

# How far back where the unit never locks: as long as a scope counts as in hand at a start. Own figure.
NEVER_LOCKS_S = 600


def last_hand(unit: Unit, tail: Iterable[Mapping[str, Any]], now: Reading) -> str:
    """Promise the id of the one person who was signed in a moment ago, "" where the record does not prove it.

    `tail` are the last lines of the record in order. Idle time is counted as the lock counts it.
    """
    within_ms = (unit.settings.lock_after_s or NEVER_LOCKS_S) * 1000
    later_ms, found = now.elapsed_ms, ""
    for line in reversed(list(tail)):
        if line["boot"] != now.boot:
            return ""  # how long the handheld was off is not proven
        if line["by"] == "device":
            continue
        if later_ms - line["elapsed"] >= within_ms:
            return found
        signing = line["kind"] == "sign-in"
        person = line["subject"] if signing else line["by"]
        if person not in unit.people or (found and person != found):
            return ""
        found = person
        if signing:
            return found
        later_ms = line["elapsed"]
    return found
