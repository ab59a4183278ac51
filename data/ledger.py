"""Completed cycles in TinyDB, one file an ISO week, for looking things up. Never the only copy of anything.

Everything in it comes from the journal (`catch_up`) and can be made again from it, byte for byte (`rebuild`). Nothing
here is called while somebody taps: a cycle is in the journal long before it is in the ledger.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tinydb.table import Document, Table

from data.disk import Disk
from data.gather import UnknownWeek, checked_week, read_week
from data.home import LEDGER, ledger_path
from data.journal import Journal
from data.ledger_glance import Glance
from data.ledger_storage import WeekStorage
from data.segments import weeks_in
from protocols.errors import RecordDamaged

TABLE = "cycles"


class Ledger:
    """The ledgers of one home. Holds no file open and nothing in memory between calls."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk

    def weeks(self) -> list[str]:
        """Promise the weeks that have a ledger, oldest first."""
        return weeks_in(self._disk, LEDGER, ".json")

    def week(self, week: str) -> list[dict[str, Any]]:
        """Promise the documents of a week in the order in which the cycles ended; [] where there is no file.

        Raises RecordDamaged or RecordTooNew.
        """
        return _in_order(self._open(week)[0].all())

    def at_a_glance(self, week: str) -> list[dict[str, Any]]:
        """Promise the documents of `week` with what the list of cycles shows of each, in a fifth of the time.

        Raises as `week`.
        """
        glance = Glance()
        try:
            tables = WeekStorage(self._disk, checked_week(week)).read_cut(glance.cut)
        except RecordDamaged:
            return self.week(week)  # which says what is damaged, if anything is
        found = glance.documents((tables or {}).get(TABLE, {}))
        return self.week(week) if found is None else _in_order(found)

    def through(self, week: str) -> int:
        """Promise the last journal seq that is folded into a week; 0 where there is no file. Raises as `week`."""
        return WeekStorage(self._disk, checked_week(week)).read_through()

    def put(self, week: str, documents: Sequence[dict[str, Any]], through_seq: int) -> None:
        """Promise that the week holds these documents, durably, and is folded through that seq; all or nothing.

        A document is known by its receipt's seq, the number in its cycle's id; one that is there already is left as it
        is, so repeating a put adds nothing. Raises as `week`, DiskError, and Defect for NaN.
        """
        table, storage = self._open(week)
        known = {document.doc_id for document in table.all()}
        storage.folding = through_seq
        table.insert_multiple(Document(d, d["seq"]) for d in documents if d["seq"] not in known)

    def replace(self, week: str, documents: Sequence[dict[str, Any]], through_seq: int) -> None:
        """Promise that the week holds exactly these documents, whatever was there, damage included."""
        storage = WeekStorage(self._disk, checked_week(week))
        storage.folding = through_seq
        storage.write({TABLE: {str(d["seq"]): d for d in documents}})

    def _open(self, week: str) -> tuple[Table, WeekStorage]:
        # Opened anew for every call: TinyDB keeps what it has read, and a rebuilt file would not be seen.
        storage = WeekStorage(self._disk, checked_week(week))
        return Table(storage, TABLE), storage


def _in_order(documents: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    return sorted((dict(d) for d in documents), key=lambda d: int(d["ended_seq"]))


def catch_up(ledger: Ledger, journal: Journal) -> list[str]:
    """Promise that every cycle that has ended is in the ledger; gives the weeks that were written.

    Weeks are folded oldest first and a later one only after those before it, so of the weeks that have a file only the
    newest can be behind. Raises RecordDamaged or RecordTooNew (journal or ledger) and DiskError; what was written until
    then stays, and the next call goes on from there.
    """
    known = ledger.weeks()
    head = journal.head[0]
    segments = journal.segments()
    written = []
    for week in segments:
        if week in known and week != known[-1]:
            continue
        through = ledger.through(week)
        if through > head:
            raise RecordDamaged(
                f"{ledger_path(week)} is folded through line {through}, the journal ends at line {head}; nothing has "
                "been changed: the journal was replaced by an older copy, or the ledger is of another record"
            )
        if week == segments[-1] and through == head:
            continue
        read = read_week(journal, week, through)
        if read.through > through:
            ledger.put(week, read.documents(through), read.through)
            written.append(week)
    return written


def rebuild(ledger: Ledger, journal: Journal, week: str) -> None:
    """Promise that the week's ledger is what the journal says, the same bytes as before where nothing was damaged.

    Raises UnknownWeek when the journal no longer has that week: then the ledger's file is left as it is.
    """
    if checked_week(week) not in ledger.weeks():
        # A file of a later week would let `catch_up` take those before it for complete.
        catch_up(ledger, journal)
    if week not in journal.segments():
        raise UnknownWeek(
            f"the journal has no {week}, so its ledger can't be rebuilt; bring that week back from a copy"
        )
    read = read_week(journal, week)
    ledger.replace(week, read.documents(), read.through)


def mend_newest(ledger: Ledger, journal: Journal) -> str:
    """Promise that the newest ledger can be read, made again from the journal where it was damaged; gives that week.

    Gives "" where nothing had to be done. Raises RecordTooNew, RecordDamaged for a journal, UnknownWeek or DiskError.
    """
    week = (ledger.weeks() or [""])[-1]
    try:
        if week:
            ledger.through(week)
    except RecordDamaged:
        rebuild(ledger, journal, week)
        return week
    return ""
