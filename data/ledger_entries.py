"""What the list of ended cycles shows of each, kept beside the ledger so that a search need not read whole weeks.

It lies in `entries.sqlite` in the home folder and is disposable: a week's rows are used only while the ledger's file
has the length and the last bytes that it had when they were made (they say how far the journal is folded in, and the
same journal gives the same file); otherwise, and where a row does not fit its checksum, that week's file is read again.
A second row of each week holds the tags, cases, baths and people in it, so that a week without what is asked is passed
over by that short row. A file damaged in the middle is found when a cycle of it is opened, and by `verify`; the list
itself decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from data.disk import Disk
from data.home import ledger_path
from data.ledger import Ledger
from data.trace_store import IndexDamaged, Store, discard, row_key
from protocols.clock import parse_wall

FILE = "entries.sqlite"
_TAIL = 64


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; "" for anything. `bath` is a bath's uid, label or lot, `person` an id."""

    tag: str = ""
    case: str = ""
    bath: str = ""
    person: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One ended cycle in the list. Lengths in s; `lates` counts limits that were passed."""

    week: str
    cycle: str
    tag: str
    case: str
    procedure: str
    ended_ms: int
    length_s: float
    outcome: str
    disinfected: bool
    lates: int


class Entries:
    """The entries of one home's ledger. Owned by one thread."""

    def __init__(self, disk: Disk, ledger: Ledger, store: Store) -> None:
        self._disk = disk
        self._ledger = ledger
        self._store = store

    def week(self, week: str, query: Query) -> list[Entry]:
        """Promise the entries of a week that fit everything asked for, the newest first.

        Raises RecordDamaged or RecordTooNew where the week's file must be read and can't be.
        """
        mark = self._mark(week)
        named = self._kept(_named_row(week), mark)
        if named is not None and not _may_hold(named, query):
            return []
        row = None if named is None else self._kept(week, mark)
        if row is None:
            documents = reversed(self._ledger.week(week))
            found: list[Any] = [[asdict(entry(week, d)), _baths(d), _people(d)] for d in documents]
            self._keep({week: {"mark": mark, "entries": found}, _named_row(week): {"mark": mark, **_named(found)}})
        else:
            found = row["entries"]
        return [Entry(**shown) for shown, baths, people in found if _fits(query, shown, baths, people)]

    def close(self) -> None:
        """Promise that no file is held open."""
        self._store.close()

    def _mark(self, week: str) -> str:
        path = ledger_path(week)
        size = self._disk.size(path)
        return f"{size}:{self._disk.read_from(path, max(0, size - _TAIL)).hex()}"

    def _kept(self, key: str, mark: str) -> dict[str, Any] | None:
        """The row under a key, where it was made of the file as it is now."""
        try:
            row = self._store.get(key)
        except IndexDamaged:
            self._do_without()
            return None
        return row if row is not None and row["mark"] == mark else None

    def _keep(self, rows: dict[str, dict[str, Any]]) -> None:
        try:
            self._store.begin()
            for key, row in rows.items():
                self._store.put(key, row, self._store.get(key) is None)
            self._store.commit()
        except IndexDamaged:
            # A full or read-only disk: the answer is right without it, only the next search is as slow.
            self._do_without()

    def _do_without(self) -> None:
        self._store.close()
        self._store = Store(None)


@contextmanager
def open_entries(disk: Disk, ledger: Ledger, home: Path | None) -> Iterator[Entries]:
    """Promise the entries kept in a home folder; in memory where there is none, or where it can't be written to.

    A file that is not as written is thrown away, and made again as weeks are looked through.
    """
    store = None
    if home is not None:
        try:
            store = Store(home / FILE)
        except IndexDamaged:
            store = _anew(home / FILE)
    entries = Entries(disk, ledger, store or Store(None))
    try:
        yield entries
    finally:
        entries.close()


def _anew(path: Path) -> Store | None:
    try:
        discard(path)
        return Store(path)
    except (IndexDamaged, OSError):
        return None


def entry(week: str, document: dict[str, Any]) -> Entry:
    """Promise what the list shows of a ledger's document."""
    ended_ms = parse_wall(document["outcome"]["at"])
    return Entry(
        week,
        document["cycle"],
        document["scope"]["tag"],
        document["case"]["reference"],
        document["case"]["procedure_type"] or "",
        ended_ms,
        (ended_ms - parse_wall(document["received"]["at"])) / 1000,
        document["outcome"]["outcome"],
        document["outcome"]["disinfected"],
        len(document["lates"]),
    )


def _baths(document: dict[str, Any]) -> list[str]:
    return sorted({bath[name] for bath in document["baths"] for name in ("uid", "label", "lot") if bath.get(name)})


def _people(document: dict[str, Any]) -> list[str]:
    return sorted({event["by"] for event in document["events"]})


def _named_row(week: str) -> str:
    """The key of what a week names: a twentieth of its entries, so that a week without what is asked costs little."""
    return row_key(week, "named")


def _named(found: list[Any]) -> dict[str, list[str]]:
    sets: dict[str, set[str]] = {"tag": set(), "case": set(), "bath": set(), "person": set()}
    for shown, baths, people in found:
        sets["tag"].add(shown["tag"])
        sets["case"].add(shown["case"])
        sets["bath"].update(baths)
        sets["person"].update(people)
    return {name: sorted(keys) for name, keys in sets.items()}


def _may_hold(named: dict[str, Any], query: Query) -> bool:
    return all(not key or key in named[name] for name, key in asdict(query).items())


def _fits(query: Query, shown: dict[str, Any], baths: list[str], people: list[str]) -> bool:
    return (
        query.tag in ("", shown["tag"])
        and query.case in ("", shown["case"])
        and (not query.bath or query.bath in baths)
        and (not query.person or query.person in people)
    )
