"""A look-back in words: a table of its cycles, a time ribbon for each, and the other events."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from data.trace import Trace, TracedCycle
from protocols.clock import clock_text, parse_wall
from protocols.event import Event
from protocols.numerals import counted

# One sign a stage, in the order of the work.
STAGE_SIGNS = {
    "prepare": "p", "leak test": "l", "clean": "c", "rinse": "r", "inspect": "i", "disinfect": "D", "final rinse": "f",
    "dry": "a", "store": "s", "repair": "x",
}  # fmt: skip
RIBBON_LONG = 60
_TITLES = ("scope", "case", "received", "ended", "outcome", "baths (lot)", "strips", "by")


def lines(found: Trace) -> Iterator[str]:
    """Promise the look-back line by line."""
    cycles, others = counted(len(found.cycles), "cycle"), counted(len(found.others), "other event")
    yield f"{found.kind} {found.key}: {cycles}, {others}"
    yield from _gone(found)
    if found.cycles:
        yield ""
        yield from _table(found.cycles)
        yield ""
        yield "ribbons: " + ", ".join(f"{sign} {stage}" for stage, sign in STAGE_SIGNS.items()) + ", . none told"
        yield from (f"{c.scope:<8} {ribbon(c)}" for c in found.cycles if c.received)
    held = [c for c in found.cycles if c.held]
    if held:
        yield ""
        yield from (f"{c.scope} ({c.id}) {_held(c.held)}" for c in held)
    if found.others:
        yield ""
        for event in found.others:
            yield f"{_minute(event.wall)}  {event.kind:<19} {event.subject:<10} by {event.by}  {said(event)}".rstrip()


def _gone(found: Trace) -> Iterator[str]:
    """Where to look for what is no longer here, one line for each stretch of weeks that went to one place."""
    stretch: list[str] = []
    for place, stub in enumerate(found.purged):
        stretch.append(stub.week)
        after = found.purged[place + 1 :]
        if not after or after[0].to != stub.to:
            weeks = stretch[0] if len(stretch) == 1 else f"{stretch[0]} to {stretch[-1]}"
            yield f"not looked through: {weeks}, purged from this handheld; the exports lie at {stub.to}"
            stretch = []


def _held(events: Sequence[Event]) -> str:
    strip, *decided = events
    said = [f"held since {_minute(strip.wall)}: {strip.data['holds_why']}"]
    return "; ".join(said + [f"{e.data['decision']} by {e.by} ({e.data['reason']})" for e in decided])


def _table(cycles: Sequence[TracedCycle]) -> Iterator[str]:
    rows = [_TITLES, *(_row(cycle) for cycle in cycles)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_TITLES))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _row(cycle: TracedCycle) -> tuple[str, ...]:
    ended = cycle.ended
    return (
        cycle.scope, cycle.case, _minute(cycle.received), _minute(ended.wall) if ended else "", cycle.outcome,
        ", ".join(cycle.baths), ", ".join(map(" ".join, cycle.strips)), ", ".join(cycle.people),
    )  # fmt: skip


def _minute(wall: str) -> str:
    return wall[:16].replace("T", " ")


def ribbon(cycle: TracedCycle) -> str:
    """Promise a cycle's time as signs, each the stage in that part of it, between its first and last clock time."""
    ended = cycle.ended
    worked = [e for e in cycle.own if ended is None or e.seq <= ended.seq]
    times = [parse_wall(e.wall) for e in worked]
    # What lies between two events was spent at the step that the later one works on.
    stages = [""] * len(worked)
    for place in range(len(worked) - 1, -1, -1):
        later = stages[place + 1] if place + 1 < len(worked) else ""
        stages[place] = worked[place].data.get("stage") or later
    start, length = times[0], max(1, times[-1] - times[0])
    signs, place = [], min(1, len(times) - 1)
    for column in range(RIBBON_LONG):
        moment = start + length * (column + 0.5) / RIBBON_LONG
        while place < len(times) - 1 and times[place] < moment:
            place += 1
        signs.append(STAGE_SIGNS.get(stages[place], "."))
    first, last = worked[0].wall, worked[-1].wall
    return f"{first[11:16]} {''.join(signs)} {last[11:16]}  {clock_text(length / 1000)}"


def said(event: Event) -> str:
    """Promise what an event outside a cycle says, as short text."""
    parts = [f"holds {value}" if name == "holds" else value for name, value in told(event)]
    return ", ".join(parts)


def told(event: Event) -> list[tuple[str, str]]:
    """Promise what an event outside a cycle tells, each value with its name; the scopes that it holds as "holds"."""
    data = event.data
    bath: dict[str, Any] = next((data[n] for n in ("bath", "container", "strips") if isinstance(data.get(n), dict)), {})
    named = [
        *((name, bath.get(name)) for name in ("title", "type", "lot", "expires")),
        *((name, data.get(name)) for name in ("result", "scope", "strip_lot", "lot", "decision", "reason", "what")),
    ]
    found = [(name, str(value)) for name, value in named if value and isinstance(value, (str, int, float))]
    if data.get("holds"):
        found.append(("holds", ", ".join(one["scope"] for one in data["holds"])))
    return found
