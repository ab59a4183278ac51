"""The conflicts among gathered exports, by the same query that PostgreSQL answers, in a file database of the moment."""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from data.exporters.csv_text import Column, table
from data.exporters.manifest import Manifest
from data.unit_gather.found import source_of
from protocols.clock import parse_wall, wall_text

QUERY = (Path(__file__).parent / "conflicts.sql").read_text(encoding="utf-8")
_TABLES = """
PRAGMA journal_mode = OFF;
PRAGMA synchronous = OFF;
CREATE TABLE cycle_spans (source, unit, cycle, scope_tag, scope_serial, received_at INTEGER, ended_at INTEGER);
CREATE TABLE bath_rows (source, unit, bath_id, bath, kind, lot, poured_at INTEGER, closed_at INTEGER, life_d REAL);
CREATE TABLE week_heads (source, device, signing_key, week, closed, through INTEGER, head, first_seq INTEGER,
                         before_first, shown, fits);
CREATE VIEW bath_spans AS
    SELECT source, max(CASE WHEN poured_at IS NOT NULL THEN unit END) AS unit, bath_id, max(bath) AS bath,
           max(kind) AS kind, max(lot) AS lot, min(poured_at) AS poured_at,
           coalesce(max(closed_at), CAST(min(poured_at) + coalesce(max(life_d), 1) * 86400000 AS INTEGER)) AS until
      FROM bath_rows GROUP BY source, bath_id HAVING min(poured_at) IS NOT NULL;
CREATE INDEX by_tag ON cycle_spans (unit, scope_tag, received_at);
CREATE INDEX by_serial ON cycle_spans (scope_serial, received_at);
"""
_NAMES = ("kind", "what", "first_source", "first_id", "second_source", "second_id", "since", "until")
_MEANS = (
    "what is in conflict", "scope tag, bath label, week or device", "handheld", "its cycle, bath, line or key",
    "the other handheld", "its cycle, bath, line or key", "from when (UTC)", "until when; empty for an open end",
)  # fmt: skip
_COLUMNS: tuple[Column[Any], ...] = tuple(
    Column(name, "text", means, lambda row, at=number: row[at])  # type: ignore[misc]
    for number, (name, means) in enumerate(zip(_NAMES, _MEANS, strict=True))
)


class Conflicts:
    """Collects cycles, baths and manifests in a scratch file, then lists what contradicts. Close it after use."""

    def __init__(self, scratch: Path) -> None:
        self._base = sqlite3.connect(scratch)
        self._base.executescript(_TABLES)

    def close(self) -> None:
        self._base.close()

    def add_cycles(self, source: str, unit: str, cycles: bytes) -> None:
        """Take in a cycles.csv of one handheld."""
        names = ("cycle", "scope_tag", "scope_serial")
        rows = (
            (source, unit, *(row[n] for n in names), _ms(row["received_at"]), _ms(row["ended_at"]))
            for row in _rows(cycles)
            # It goes on in the export of the handheld that took it over, which tells it from the receipt on.
            if row["outcome"] != "handed over"
        )
        self._base.executemany("INSERT INTO cycle_spans VALUES (?, ?, ?, ?, ?, ?, ?)", rows)

    def add_baths(self, source: str, unit: str, baths: bytes) -> None:
        """Take in a baths.csv of one handheld."""
        names = ("bath_id", "bath", "kind", "lot")
        rows = (
            (
                source, unit, *(row[n] for n in names), _ms(row["poured_at"]), _ms(row["closed_at"]),
                row["reuse_life_d"] or None,
            )
            for row in _rows(baths)
        )  # fmt: skip
        self._base.executemany("INSERT INTO bath_rows VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)

    def add_manifest(self, said: Manifest, shown: bool, fits: bool) -> None:
        """Take in what an export said of its week, whether it is the one shown, and whether it fits to that one."""
        row = (
            source_of(said), said.device, said.key, said.week, said.closed, said.through, said.head, said.first_seq,
            said.before, shown, fits,
        )  # fmt: skip
        self._base.execute(f"INSERT INTO week_heads VALUES ({', '.join('?' * len(row))})", row)

    def found(self) -> Iterator[tuple[str | None, ...]]:
        """Promise every conflict once, in an order that does not depend on that of taking in."""
        for row in self._base.execute(f"SELECT DISTINCT * FROM ({QUERY}) ORDER BY 1, 2, 7, 3, 4, 5, 6, 8"):
            yield (*row[:6], _text(row[6]), _text(row[7]))


def conflicts_csv(rows: Iterable[tuple[str | None, ...]]) -> bytes:
    """Promise the conflicts as CSV."""
    return table(_COLUMNS, rows)


def _rows(content: bytes) -> Iterator[dict[str, str]]:
    return iter(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def _ms(wall: str) -> int | None:
    return parse_wall(wall) if wall else None


def _text(ms: int | None) -> str | None:
    return None if ms is None else wall_text(ms, "UTC")
