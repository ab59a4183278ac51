"""A record leaves its home: the ledger brought up to date, then a week's export written into a folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from data.disk import Disk
from data.exporters.csv_week import export_week
from data.exporters.folder import write_export
from data.gather import checked_week
from data.home import EXPORTS, LOCK, Texts, require_journal
from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.real_disk import RealDisk


def leave_weeks(disk: Disk, journal: Journal, folder: Path) -> Iterator[str]:
    """Promise the ledger and the export of every week of a rehearsed record, in its own home; a line for each."""
    catch_up(Ledger(disk), journal)
    for week in journal.segments():
        target, how = write_export(export_week(journal, week, Texts(disk).get), folder / EXPORTS)
        yield f"{how}: {target}"


def export_home(home: Path, week: str, to: Path) -> str:
    """Promise the export of one week of the record in `home`, in `to`/<week>; gives what was done.

    Raises CommandFault for a malformed week, UnknownWeek, HomeBusy, RecordDamaged, RecordTooNew, ExportDiffers or
    DiskError; then nothing was written.
    """
    checked_week(week)
    disk = RealDisk(home)
    disk.lock(LOCK, "main.py export")
    try:
        require_journal(disk)
        journal = Journal(disk)
        journal.open()
        catch_up(Ledger(disk), journal)
        target, how = write_export(export_week(journal, week, Texts(disk).get), to)
    finally:
        disk.close()
    return f"{how}: {target}"
