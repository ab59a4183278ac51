"""What the list of ended cycles shows of each, kept beside the ledger so that a search need not read whole weeks.

It lies in `entries.sqlite` in the home folder and is disposable: a week's rows are used only while its file in the
ledger is the one that they were made of (`data.unchanged`); otherwise, and where a row does not fit its checksum, that
week's file is read again. Of each tag, case, bath and person it keeps the weeks that name it, so a search goes to those
and to the weeks not looked through yet. That there are none of the latter is known without a look at every week as long
as the ledger's folder has not changed. A file damaged in place is found when a week or cycle of it is shown, and by
`verify`; the list itself decides nothing.

Rows (`data.trace_store`):
    <week>              {"mark", "entries"}: the file that it is made of, and each entry with its baths and people
    m␟year              the marks of that year's weeks that have been looked through: {"marks": {week: mark}}
    k␟way␟key           some weeks that name a key, and the years of the others: {"weeks", "years"}
    k␟way␟key␟year      those of a year: {"weeks"}
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from data.disk import Disk
from data.home import LEDGER, ledger_path
from data.ledger import Ledger
from data.ledger_entry import WAYS, Entry, Found, Query, found_in
from data.trace_store import IndexDamaged, Store, discard, row_key
from data.unchanged import mark, stamp

FILE = "entries.sqlite"
# Weeks read between two commits while a long ledger is looked through for the first time.
_COMMIT_EVERY = 16
# So many weeks lie in a key's own row before they are put into rows of their years, for a row that grew with the record
# would be written anew, longer, for every week. Most keys are cases, and have one.
_LOOSE = 16


class Entries:
    """The entries of one home's ledger. Owned by one thread."""

    def __init__(self, disk: Disk, ledger: Ledger, path: Path | None) -> None:
        """`path` is of the file that they are kept in; None keeps them in memory."""
        self._disk = disk
        self._ledger = ledger
        self._path = path
        try:
            self._store = Store(path)
        except IndexDamaged:
            self._store = _anew(path)
        # Whether a transaction is open, and how many weeks were kept in it.
        self._begun, self._kept = False, 0
        # The folder as it was before its weeks were listed, and of those the ones not looked through.
        self._folder = ""
        self._unknown: set[str] = set()

    def weeks(self, query: Query) -> list[str]:
        """Promise the weeks that may hold what is asked for, the newest first; `week` then says what they do hold."""
        self._folder = stamp(self._disk, LEDGER)
        try:
            return sorted(self._weeks(query), reverse=True)
        except IndexDamaged:
            self._make_again()
            return self._ledger.weeks()[::-1]

    def _weeks(self, query: Query) -> set[str]:
        named = self._named(query)
        same = self._folder != "" and self._folder == self._store.meta.get("folder")
        if same and named is not None:
            return named
        there = self._ledger.weeks()
        self._unknown = set() if same else {week for week in there if not self._looked_through(week)}
        if not same and not self._unknown:
            self._note_folder()
        return {*there} if named is None else (named | self._unknown) & {*there}

    def _named(self, query: Query) -> set[str] | None:
        """The weeks looked through that name all keys of a query, None where it has none. Raises IndexDamaged."""
        found: set[str] | None = None
        for way in WAYS:
            if key := getattr(query, way):
                row = self._store.get(row_key("k", way, key))
                if row is None and not self._store.lacks(row_key("k", way, key)):
                    raise IndexDamaged("the list of cycles has lost rows")
                weeks = self._weeks_of(row_key("k", way, key), row or {"weeks": (), "years": ()})
                found = weeks if found is None else found & weeks
        return found

    def _weeks_of(self, key: str, row: dict[str, Any]) -> set[str]:
        weeks = set(row["weeks"])
        for year in row["years"]:
            of_year = self._store.get(row_key(key, year))
            if of_year is None:
                raise IndexDamaged("the list of cycles has lost a year")
            weeks.update(of_year["weeks"])
        return weeks

    def _looked_through(self, week: str) -> bool:
        now = mark(self._disk, ledger_path(week))
        row = self._store.get(_marks_of(week))
        return row is not None and now != "" and row["marks"].get(week) == now

    def week(self, week: str, query: Query) -> list[Entry]:
        """Promise the entries of a week that fit everything asked for, the newest first.

        Raises RecordDamaged or RecordTooNew where the week's file must be read and can't be.
        """
        now = mark(self._disk, ledger_path(week))
        try:
            row = self._store.get(week)
        except IndexDamaged:
            self._make_again()
            row = None
        if row is not None and now and row["mark"] == now:
            found = [Found(Entry(*shown), baths, people) for shown, baths, people in row["entries"]]
        else:
            found = [found_in(week, document) for document in reversed(self._ledger.at_a_glance(week))]
            if now:
                self._keep(week, now, found)
        return [one.entry for one in found if one.fits(query)]

    def close(self) -> None:
        """Promise that no file is held open; what was read is kept where that is possible."""
        with suppress(IndexDamaged):
            if self._begun:
                self._commit()
        self._store.close()

    def _keep(self, week: str, now: str, found: list[Found]) -> None:
        try:
            self._begin()
            self._store.put(week, {"mark": now, "entries": found}, self._store.get(week) is None)
            year, row = _marks_of(week), self._store.get(_marks_of(week))
            self._store.put(year, {"marks": {**(row["marks"] if row else {}), week: now}}, row is None)
            for way, key in {named for one in found for named in one.named()}:
                self._name(row_key("k", way, key), week)
            self._unknown.discard(week)
            self._kept += 1
            if self._kept == _COMMIT_EVERY:
                self._commit()
        except IndexDamaged:
            self._do_without()

    def _name(self, key: str, week: str) -> None:
        """Put a week among those that name a key."""
        row = self._store.get(key)
        if row is None:
            self._store.note(key)
        weeks, years = (row["weeks"], row["years"]) if row else ([], [])
        if week in weeks:
            return
        weeks = [*weeks, week]
        if len(weeks) > _LOOSE:
            for year in sorted({week[:4] for week in weeks}):
                of_year = self._store.get(row_key(key, year))
                named = {*(of_year["weeks"] if of_year else ()), *(week for week in weeks if week.startswith(year))}
                self._store.put(row_key(key, year), {"weeks": sorted(named)}, of_year is None)
                years = years if year in years else [*years, year]
            weeks = []
        self._store.put(key, {"weeks": weeks, "years": years}, row is None)

    def _begin(self) -> None:
        if not self._begun:
            self._store.begin()
            self._begun, self._kept = True, 0

    def _commit(self) -> None:
        if self._folder and not self._unknown:
            self._store.meta["folder"] = self._folder
        self._begun = False
        self._store.commit()

    def _note_folder(self) -> None:
        """Keep that all weeks of the folder have been looked through."""
        if self._folder:
            try:
                self._begin()
                self._commit()
            except IndexDamaged:
                self._do_without()

    def _make_again(self) -> None:
        """Begin anew where rows are not as they were written."""
        self._go_on_with(self._path)

    def _do_without(self) -> None:
        """A full or read-only disk: the answer is right without the file, only the next search is as slow."""
        self._go_on_with(None)

    def _go_on_with(self, path: Path | None) -> None:
        self._store.close()
        self._store = _anew(path)
        self._begun, self._unknown = False, set(self._ledger.weeks())


@contextmanager
def open_entries(disk: Disk, ledger: Ledger, home: Path | None) -> Iterator[Entries]:
    """Promise the entries kept in a home folder; in memory where there is none, or where it can't be written to.

    A file that is not as written is thrown away, and made again as weeks are looked through.
    """
    entries = Entries(disk, ledger, home / FILE if home is not None else None)
    try:
        yield entries
    finally:
        entries.close()


def _anew(path: Path | None) -> Store:
    """An empty store in the file, in memory where that can't be."""
    with suppress(IndexDamaged, OSError):
        if path is not None:
            discard(path)
            return Store(path)
    return Store(None)


def _marks_of(week: str) -> str:
    """The key of the marks of a week's year."""
    return row_key("m", week[:4])
