"""Hands-on time of a cycle, as the taps show it: a time that is surely work, and less than all of it.

What counts is the time between two taps of one person on one scope with no tap of theirs on another scope between, up
to the tap that starts a soak, air or a machine run, and not the wait until its end. Whoever comes back from another
scope has worked a moment before the next tap, which nobody sees; so the true time is somewhat longer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from data.durations import GAP_S_MAX, begins_a_wait
from protocols.clock import parse_wall

# What ends a wait: the time before it was the bath's or the machine's.
_ENDS_A_WAIT = frozenset(("lift", "check", "run-end", "interrupt"))


def hands_s(documents: Sequence[Mapping[str, Any]]) -> dict[str, float]:
    """Promise the hands-on seconds of each cycle, by its id; documents are those of one handheld."""
    taps = sorted(
        ((event["seq"], document["cycle"], event) for document in documents for event in document["events"]),
        key=lambda tap: int(tap[0]),
    )
    found: dict[str, float] = {}
    last: dict[str, tuple[str, Mapping[str, Any]]] = {}
    for _, cycle, event in taps:
        before = last.get(event["by"])
        last[event["by"]] = (cycle, event)
        if before is None or before[0] != cycle or event["kind"] in _ENDS_A_WAIT or begins_a_wait(before[1]):
            continue
        gap_s = (parse_wall(event["at"]) - parse_wall(before[1]["at"])) / 1000
        if 0 < gap_s <= GAP_S_MAX:
            found[cycle] = found.get(cycle, 0.0) + gap_s
    return found
