"""A week of the record as CSV: a row a cycle, an event, a bath, a test; what the columns mean; the protocols used.

An exported week never changes: everything that can still happen to its cycles is recorded, and exported, in the week in
which it happens. A week is closed once a later one has begun in the record; until then an export says "week still open"
and may be replaced by a later export of the same week (`data.exporters.folder`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from data.canonical import canonical
from data.cycles import plain_event
from data.exporters.bath_tests import BATH_COLUMNS, TEST_COLUMNS, bath_rows, test_rows
from data.exporters.csv_text import Column, table
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.exporters.cycle_row import CycleRow
from data.gather import WeekRead, cycle_of

CONTENTS = "week.json"
STILL_OPEN = "week still open: more may follow, export it again when it has ended"


@dataclass(frozen=True, slots=True)
class EventRow:
    """One event for the table: as a cycle's document holds it, and why it is in this week's export."""

    event: dict[str, Any]
    cycle: str
    belongs: str


def _of(name: str, means: str) -> Column[EventRow]:
    return Column(name, "text", means, lambda r: r.event[name])


def _ref(name: str, means: str) -> Column[EventRow]:
    return Column(name, "text", means, lambda r: r.event["refs"].get(name))


def _in_data(name: str, means: str) -> Column[EventRow]:
    return Column(name, "text", means, lambda r: r.event["data"].get(name))


EVENT_COLUMNS: tuple[Column[EventRow], ...] = (
    Column("seq", "number", "place in the record", lambda r: r.event["seq"]),
    _of("id", "id of the event: device and seq"),
    _of("at", "wall time with the unit's offset"),
    _of("kind", "what was done"),
    _of("subject", "on what: tag of a scope, label of a bath, id of a person or protocol"),
    _of("by", "by whom"),
    Column("belongs", "text", "to a cycle that ended in this week, an amendment of an ended cycle, or the unit",
           lambda r: r.belongs),
    Column("cycle", "text", "id of the cycle", lambda r: r.cycle),
    _ref("scope", "tag of the scope"),
    _ref("case", "case reference"),
    _ref("bath", "id of the bath's pouring"),
    _ref("lot", "lot poured"),
    _ref("test", "id of the strip test"),
    _in_data("step", "step of the protocol"),
    _in_data("stage", "its stage"),
    Column("taken_back_by", "number", "seq of the event that took this one back", lambda r: r.event["undone_by"]),
    Column("data", "text", "all figures as resolved then, as JSON", lambda r: canonical(r.event["data"]).decode()),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Documented:
    file: str
    column: Column[Any]


_DOCUMENTATION: tuple[Column[_Documented], ...] = (
    Column("file", "text", "file that the column is in", lambda d: d.file),
    Column("column", "text", "name of the column; a unit stands last (s, d, c for °C, pct)", lambda d: d.column.name),
    Column("kind", "text", "text, number or yes/no; only text is guarded against formulas", lambda d: d.column.kind),
    Column("means", "text", "what it holds", lambda d: d.column.means),
)


def week_files(read: WeekRead, documents: list[dict[str, Any]], text_of: Callable[[str], str]) -> dict[str, bytes]:
    """Promise the files of a week's export by name: the five tables, texts/<sha256>, week.json.

    `documents` are the week's cycles; `text_of` gives a protocol's text by its hash. `week.json` holds the state
    ("complete" or that the week is still open), the last line of the record that went in, and the hash of every other
    file. The same record gives the same bytes.
    """
    files = {
        "cycles.csv": table(CYCLE_COLUMNS, map(CycleRow, documents)),
        "events.csv": table(EVENT_COLUMNS, sorted(_events(read, documents), key=lambda r: int(r.event["seq"]))),
        "baths.csv": table(BATH_COLUMNS, bath_rows(read, documents)),
        "tests.csv": table(TEST_COLUMNS, test_rows(read, documents)),
        "columns.csv": table(_DOCUMENTATION, _documented()),
    }
    for sha in sorted({d["protocol"]["text_sha256"] for d in documents}):
        files[f"texts/{sha}"] = text_of(sha).encode()
    files[CONTENTS] = canonical({
        "v": 1, "week": read.week, "closed": read.closed, "note": "complete" if read.closed else STILL_OPEN,
        "through": read.through, "through_hash": read.head, "cycles": len(documents),
        "files": {name: sha256(content).hexdigest() for name, content in files.items()},
    }) + b"\n"  # fmt: skip
    return files


def _events(read: WeekRead, documents: list[dict[str, Any]]) -> Iterator[EventRow]:
    for document in documents:
        for event in document["events"]:
            yield EventRow(event, document["cycle"], "cycle")
    for event in read.others:
        cycle = cycle_of(event)
        yield EventRow(plain_event(event, None), cycle, "amendment" if cycle else "unit")


def _documented() -> Iterator[_Documented]:
    tables: dict[str, Sequence[Column[Any]]] = {
        "cycles.csv": CYCLE_COLUMNS, "events.csv": EVENT_COLUMNS, "baths.csv": BATH_COLUMNS, "tests.csv": TEST_COLUMNS,
    }  # fmt: skip
    for file, columns in tables.items():
        for column in columns:
            yield _Documented(file, column)
