"""The unit's own hand times, taken from the ledger: per family and step, the newest few, kept nowhere else.

Only what the record shows as work without waiting counts: taps of one person with nothing recorded between them. A
visit to a step that was broken off by another tap after at least one of its own, or that still goes on, is kept as
"longer than seen". Lengths come from wall times, which is enough for a forecast and never serves as a limit.
Reading the ledger is for a thread of its own: no tap waits for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from data.ledger import Ledger
from data.library import DURATIONS_FILE, shipped_durations_text
from protocols.clock import Stamp, longest_s, parse_wall
from protocols.durations import KEPT, Durations, Seen, read_durations
from protocols.shelf import Shelf
from protocols.unit import Unit

# So many of the newest weeks are read: own figure, about two months.
WEEKS = 8
# A longer gap between two taps is a break, not a brush stroke: own figure.
GAP_S_MAX = 1800
Own = dict[tuple[str, str], list[Seen]]


def shipped_durations() -> Durations:
    """Promise the shipped guesses of how long hands are busy."""
    return read_durations(shipped_durations_text(), DURATIONS_FILE)


def durations_of(ledger: Ledger) -> Durations:
    """Promise the shipped guesses with the unit's own times from the newest weeks. Raises as `Ledger.week` does."""
    documents = [document for week in ledger.weeks()[-WEEKS:] for document in ledger.week(week)]
    return shipped_durations().with_own(own_times(documents))


def own_times(documents: Iterable[Mapping[str, Any]]) -> Own:
    """Promise the times seen in ended cycles, by (family, step id), oldest first, of each the newest KEPT."""
    found: Own = {}
    for document in documents:
        events = document["events"]
        if not events:
            continue
        family = str(events[0]["data"].get("family", ""))
        for step, seen in _visits(events):
            found.setdefault((family, step), []).append(seen)
    return {key: seen[-KEPT:] for key, seen in found.items()}


def with_running(durations: Durations, unit: Unit, shelf: Shelf, now: Stamp) -> Durations:
    """Promise the same with the step in hand right now as one that takes longer than it has until now."""
    newest = max(unit.cycles.values(), key=lambda cycle: cycle.last_seq, default=None)
    if newest is None or newest.last_seq != unit.seq or newest.running or newest.hold is not None:
        return durations
    key = (shelf.protocol(newest.text_sha256).family, newest.step)
    seen = Seen(min(longest_s(newest.last_at, now), GAP_S_MAX), False)
    return durations.with_own({**durations.own, key: (*durations.own.get(key, ()), seen)})


def begins_a_wait(event: Mapping[str, Any]) -> bool:
    """Promise whether a soak, air or a run goes on after this tap; the rinse that counts its time is handwork."""
    timer = event["data"].get("timer") or {}
    return bool(event["kind"] == "start" and timer.get("kind") != "each")


def _visits(events: list[dict[str, Any]]) -> Iterable[tuple[str, Seen]]:
    """Each stay at a step with what was seen of its handwork; `events` are one cycle's, in order."""
    step, since, seen_s, whole = "", None, 0.0, False
    for event in events:
        data = event["data"]
        if step and since is not None and data.get("step") == step and whole:
            gap_s = (parse_wall(event["at"]) - parse_wall(since["at"])) / 1000
            joined = event["seq"] == since["seq"] + 1 and event["by"] == since["by"] and 0 <= gap_s <= GAP_S_MAX
            begins = begins_a_wait(event)
            if event.get("undone_by") or event["kind"] in ("undo", "skip"):
                whole = False
            elif not joined:
                whole = False
                if seen_s > 0:
                    yield step, Seen(seen_s, False)
            else:
                seen_s += gap_s
                if begins or data.get("to", step) != step:
                    whole = False
                    yield step, Seen(seen_s, True)
        if data.get("to"):
            step, seen_s, whole = str(data["to"]), 0.0, not event.get("undone_by")
        since = event
