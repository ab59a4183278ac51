"""The file behind the look-back index: rows of JSON by key, each with a checksum of its own.

The file is disposable: whatever is wrong with it, it is made again from the journal. So that a wrong answer can't pass
for a right one, every row's checksum covers its key too, the number of rows is kept, and whoever finds nothing under a
key asks `lacks` before believing it. SQLite (standard library) finds its own kinds of damage; all end as IndexDamaged.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

from protocols.errors import DeviceError

# Raised with every change of what the rows mean; a file of another format is made anew.
FORMAT = 4
_META = "meta"
# Another look-back may be bringing the index up to date at this moment.
_BUSY_S = 30
_CACHE_KIB = 8192
_SUFFIXES = ("", "-journal", "-wal", "-shm")

# Notes of keys lie in levels: the first has so many rows, each later one is so many times wider, and is begun once the
# ones before have so many notes a row. So no row grows with the record, and to look for a note is to read one row a
# level: three after ten years of 84 cases a week.
_FIRST_WIDTH, _TIMES_WIDER, _NOTES_A_ROW = 64, 4, 64
_UNIT_SEPARATOR = "\x1f"

Answer = TypeVar("Answer")


def _levels(notes: int) -> Iterator[tuple[int, int]]:
    """The levels that hold so many notes: how many notes stand before each, and how many rows it has."""
    before, width = 0, _FIRST_WIDTH
    while before < notes:
        yield before, width
        before, width = before + width * _NOTES_A_ROW, width * _TIMES_WIDER


def _mark(key: str) -> int:
    return zlib.crc32(key.encode())


def row_key(*parts: object) -> str:
    """Promise the key of a row made of these parts."""
    return _UNIT_SEPARATOR.join(map(str, parts))


class IndexDamaged(DeviceError):
    """The index is not what was written; it is made again from the journal."""


class Store:
    """Rows by key in one SQLite file, or in memory where `path` is None. Owned by one thread."""

    def __init__(self, path: Path | None) -> None:
        """Promise an open store, an empty one where there is no file. Raises IndexDamaged."""
        self._path = path
        self._file = self._guarded(lambda: sqlite3.connect(str(path or ":memory:"), timeout=_BUSY_S))
        self._file.isolation_level = None
        self._cursor = self._file.cursor()
        # Rows put since the last commit: most are put more than once before it.
        self._put: dict[str, dict[str, Any]] = {}
        try:
            self._run(f"PRAGMA cache_size = -{_CACHE_KIB}")
            self._run("PRAGMA cell_size_check = ON")
            self._run("CREATE TABLE IF NOT EXISTS row (key TEXT PRIMARY KEY, value BLOB) WITHOUT ROWID")
            self.meta: dict[str, Any] = self.get(_META) or {"format": FORMAT, "rows": 0, "notes": 0}
            if self.meta.get("format") != FORMAT or type(self.meta.get("rows")) is not int:
                raise IndexDamaged(f"the look-back index is of format {self.meta.get('format')!r}")
        except IndexDamaged:
            self.close()
            raise

    def begin(self) -> None:
        """Promise that nobody else changes the file until `commit`, and that `meta` is as the file has it."""
        self._run("BEGIN IMMEDIATE")
        self.meta = self.get(_META) or self.meta

    def commit(self) -> None:
        """Promise that the file holds all changes since `begin`, `meta` included, or none."""
        rows = [(key, _closed(key, row)) for key, row in sorted((self._put | {_META: self.meta}).items())]
        self._guarded(lambda: self._cursor.executemany("INSERT OR REPLACE INTO row VALUES (?, ?)", rows))
        self._run("COMMIT")
        self._put.clear()

    def get(self, key: str) -> dict[str, Any] | None:
        """Promise the row under a key, None where there is none. Raises IndexDamaged when it is not as written."""
        if key in self._put:
            return self._put[key]
        found = self._run("SELECT value FROM row WHERE key = ?", key).fetchone()
        return None if found is None else _opened(key, found[0])

    def put(self, key: str, row: dict[str, Any], new: bool) -> None:
        """Promise that the row is under that key at the next `commit`; `new` says that there was none."""
        self._put[key] = row
        self.meta["rows"] += new

    def note(self, key: str) -> None:
        """Promise that `lacks` knows of that key, which is new. Raises IndexDamaged."""
        count, mark = self.meta["notes"], _mark(key)
        *_, (before, width) = _levels(count + 1)
        if count == before:
            for number in range(width):
                self.put(row_key("n", width, number), {"marks": []}, True)
        place = row_key("n", width, mark % width)
        notes = self.get(place)
        if notes is None:
            raise IndexDamaged("the look-back index has lost notes")
        self.put(place, {"marks": [*notes["marks"], mark]}, False)
        self.meta["notes"] = count + 1

    def lacks(self, key: str) -> bool:
        """Promise whether no row was ever put under that noted key; False when that is not certain."""
        mark = _mark(key)
        for _, width in _levels(self.meta["notes"]):
            notes = self.get(row_key("n", width, mark % width))
            if notes is None or mark in notes["marks"]:
                return self.sound()
        return True

    def sound(self) -> bool:
        """Promise whether every row is as written and none is missing; reads the whole file."""
        count, last = 0, b""
        try:
            for key, value in self._run("SELECT key, value FROM row"):
                _opened(key, value)
                # A row that is met twice stands in the place of one that is lost.
                if key.encode() <= last:
                    return False
                count, last = count + (key != _META), key.encode()
        except (IndexDamaged, sqlite3.Error):
            return False
        return bool(count == self.meta["rows"])

    def close(self) -> None:
        """Promise that the file is not held open."""
        with suppress(sqlite3.Error):
            self._file.close()

    def _run(self, statement: str, *values: Any) -> sqlite3.Cursor:
        return self._guarded(lambda: self._cursor.execute(statement, values))

    @staticmethod
    def _guarded(work: Callable[[], Answer]) -> Answer:
        try:
            return work()
        except (sqlite3.Error, UnicodeDecodeError) as error:
            raise IndexDamaged(f"the look-back index can't be used ({error})") from error


def discard(path: Path) -> None:
    """Promise that no part of an index is left at that path; OSError when it can't be removed."""
    for suffix in _SUFFIXES:
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def _closed(key: str, row: dict[str, Any]) -> bytes:
    body = json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()
    return zlib.crc32(key.encode() + body).to_bytes(4, "big") + body


def _opened(key: Any, value: Any) -> dict[str, Any]:
    if not isinstance(key, str) or not isinstance(value, bytes) or len(value) < 4:
        raise IndexDamaged("a row of the look-back index is of the wrong shape")
    if zlib.crc32(key.encode("utf-8", "surrogatepass") + value[4:]).to_bytes(4, "big") != value[:4]:
        raise IndexDamaged(f"the row {key!r} of the look-back index does not fit its checksum")
    row = json.loads(value[4:])
    if not isinstance(row, dict):
        raise IndexDamaged(f"the row {key!r} of the look-back index is no object")
    return row
