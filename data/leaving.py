"""A record leaves its home: the ledger brought up to date, and mended, then weeks written into a folder or sent."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from data.destinations import Destination
from data.disk import Disk
from data.exporters.folder import write_export
from data.exporters.week_forms import PDF, week_forms
from data.exporters.week_pdf import WITHOUT, can_print
from data.gather import checked_week
from data.home import LOCK, require_journal
from data.journal import Journal
from data.ledger import Ledger, catch_up, mend_newest
from data.real_disk import RealDisk
from data.send import Delivered, send_waiting
from data.send_place import Place, keep_place, place_of
from data.send_progress import Progress, Tell, silent
from data.signing import signer_of
from protocols.errors import BasinbellError, CommandFault


def export_home(home: Path, week: str, to: Path, tell: Tell = silent) -> str:
    """Promise the export of one week of the record in `home`, in `to`/<week>; gives what was done.

    Raises CommandFault for a malformed week, UnknownWeek, HomeBusy, RecordDamaged, RecordTooNew, ExportDiffers,
    SigningUnavailable or DiskError; then no export was written.
    """
    checked_week(week)
    with _opened(home, "main.py export", tell) as (disk, journal):
        target, how = write_export(week_forms(disk, journal, week, signer_of(disk), tell), to)
    return f"{how}: {target}{left_out()}"


def left_out() -> str:
    """Promise what to say of a form that this machine can't make; "" where it makes all."""
    return "" if can_print() else f" (without {PDF}: {WITHOUT})"


def send_home(
    home: Path, place: Destination, week: str, now: Callable[[], str], tell: Tell
) -> Iterator[tuple[str, Delivered | BasinbellError]]:
    """Promise that a week, or all that wait where `week` is "", was tried at a destination; what became of each.

    Raises CommandFault, HomeBusy, RecordDamaged, RecordTooNew, SigningUnavailable or DiskError before anything is sent.
    """
    weeks = [checked_week(week)] if week else None
    with _opened(home, "main.py send", tell) as (disk, journal):
        try:
            yield from send_waiting(disk, journal, place, signer_of(disk), now, tell, weeks)
        finally:
            place.close()


def public_key(home: Path) -> tuple[str, str]:
    """Promise the device's name and the public key (64 hex) that its exports are signed with, made at first use.

    Raises CommandFault for an empty record, and as `export_home`.
    """
    with _opened(home, "main.py key") as (disk, journal):
        weeks = journal.segments()
        if not weeks:
            raise CommandFault(f"{home} holds no line yet; open the app once, then ask again")
        return str(next(journal.iter_segment(weeks[-1]))["device"]), signer_of(disk).public


def last_destination(home: Path) -> Place:
    """Promise where weeks of this home were last sent to; nowhere where nowhere yet."""
    return place_of(RealDisk(home))


def remember_destination(home: Path, place: Place) -> None:
    """Promise that the next sending goes there unless told otherwise. Raises DiskError."""
    keep_place(RealDisk(home), place)


@contextmanager
def _opened(home: Path, who: str, tell: Tell = silent) -> Iterator[tuple[Disk, Journal]]:
    disk = RealDisk(home)
    disk.lock(LOCK, who)
    try:
        require_journal(disk)
        journal = Journal(disk)
        journal.open()
        ledger = Ledger(disk)
        # Everything that leaves is made from the journal; a ledger that was spoilt must not keep it here.
        week = mend_newest(ledger, journal)
        if week:
            tell(Progress(week, "making", "the ledger again from the journal, for its file was damaged"))
        catch_up(ledger, journal)
        yield disk, journal
    finally:
        disk.close()
