"""A look-back as CSV: a row an event, with the columns of a week's events.csv."""

from __future__ import annotations

from data.cycles import plain_event
from data.exporters.csv_text import table
from data.exporters.csv_week import EVENT_COLUMNS, EventRow
from data.gather import cycle_of
from data.trace import Trace


def csv_bytes(found: Trace) -> bytes:
    """Promise every event of a look-back as CSV, in order; the columns are those of a week's events.csv."""
    taken_back = {e.data["undoes"]: e.seq for e in found.events if e.kind == "undo"}
    rows = [
        EventRow(plain_event(e, taken_back.get(e.seq)), cycle_of(e), "cycle" if cycle_of(e) else "unit")
        for e in found.events
    ]
    return table(EVENT_COLUMNS, rows)
