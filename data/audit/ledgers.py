"""Ledger files, against what the journal gives as of the line up to which they were folded."""

from __future__ import annotations

from typing import Any

from data.audit.difference import Difference, first_unlike
from data.disk import Disk
from data.home import ledger_path
from data.ledger import TABLE
from data.ledger_storage import WeekStorage
from protocols.errors import RecordDamaged, RecordTooNew


class LedgerFile:
    """One week's ledger as it stands; `fault` says what is wrong with it in itself, and is None when nothing is."""

    def __init__(self, disk: Disk, week: str) -> None:
        self.path = ledger_path(week)
        self.through = 0
        self.fault: Difference | None = None
        self._tables: dict[str, dict[str, Any]] = {}
        storage = WeekStorage(disk, week)
        try:
            self._tables = storage.read() or {}
            self.through = storage.through
        except (RecordDamaged, RecordTooNew) as error:
            self.fault = Difference(self.path, str(error).removeprefix(f"{self.path}: "))

    def against(self, documents: list[dict[str, Any]]) -> Difference | None:
        """Promise the first document that is not the one that the journal gives."""
        there = self._tables.get(TABLE, {})
        expected = {str(document["seq"]): document for document in documents}
        if there == expected and self._tables.keys() <= {TABLE}:
            return None
        for key in sorted({*there, *expected}, key=lambda key: (len(key), key)):
            if key not in expected:
                return Difference(self.path, f"it holds a cycle {key!r} that the journal has not ended by then")
            name = f"cycle {expected[key]['cycle']}"
            if key not in there:
                return Difference(self.path, f"{name} is missing", seq=expected[key]["ended_seq"])
            unlike = first_unlike(there[key], expected[key])
            if unlike:
                return Difference(self.path, f"{name}: {unlike}", seq=expected[key]["ended_seq"])
        return Difference(self.path, f"it holds tables besides its cycles: {', '.join(self._tables)}")
