"""A rehearsed record leaves its exports beside it, signed with a key that everybody has."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from data.disk import Disk
from data.exporters.folder import write_export
from data.exporters.week_forms import week_forms
from data.home import EXPORTS
from data.journal import Journal
from data.leaving import left_out
from data.ledger import Ledger, catch_up
from data.receipts import Receipts
from data.signing import KEY_FILE, REHEARSAL_SECRET, keep_secret
from protocols.errors import Defect


def leave_weeks(disk: Disk, journal: Journal, folder: Path) -> Iterator[str]:
    """Promise the ledger and the export of every week of a rehearsed record, in its own home; a line for each.

    Signed with a key that is public, so that the same rehearsal gives the same bytes. Raises Defect for a home that has
    a key or receipts: its own key must never give way to one that anybody can sign with.
    """
    if disk.exists(KEY_FILE) or Receipts(disk).any():
        raise Defect(f"this home has {KEY_FILE} or receipts, so it is no rehearsal's; nothing was signed or written")
    catch_up(Ledger(disk), journal)
    signer = keep_secret(disk, REHEARSAL_SECRET)
    for week in journal.segments():
        target, how = write_export(week_forms(disk, journal, week, signer), folder / EXPORTS)
        yield f"{how}: {target}{left_out()}"
