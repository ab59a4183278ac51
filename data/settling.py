"""A purge that was cut off, brought to an end when the record is opened: the event decides which.

Without the event of the purge the stub is taken away and the week stays; with it the week's files go. Nothing is
removed that is not, line for line, what the stub says. Called again it does nothing.
"""

from __future__ import annotations

from data.disk import Disk
from data.home import ledger_path
from data.journal import SET_ASIDE
from data.refused import REFUSED
from data.segments import segment_path, segment_weeks
from data.stubs import FOLDER, gone_weeks, read_stub, stub_path, stub_weeks
from protocols.errors import RecordDamaged
from protocols.stock import Purged

# What is kept beside the record to find things quickly holds case references; it is made again from what is left. The
# names stand here a second time, for the modules that use them load SQLite, which no start waits for.
KEPT_BESIDE = tuple(f"{name}.sqlite{end}" for name in ("index", "entries") for end in ("", "-journal", "-wal", "-shm"))


def settle(disk: Disk, purged: Purged | None) -> list[str]:
    """Promise that no purge is half done; gives the weeks that are still there though the record says they went.

    `purged` is how far the record was purged, as its events say. Raises DiskError; the next call goes on from there.
    """
    stuck = []
    there = segment_weeks(disk)
    for week in stub_weeks(disk):
        # Where the segment is gone too, this is damage for `verify` to name, not a purge that was cut off.
        if week in there and (purged is None or week > purged.week):
            disk.remove(stub_path(week))
    if purged is not None:
        stuck = [week for week in there if week <= purged.week and not _finished(disk, week, purged)]
    newest = gone_weeks(disk)[-1:]
    for name in disk.names(FOLDER):
        if name.endswith(".jsonl") and name.removesuffix(".jsonl") not in newest and not stuck:
            disk.remove(f"{FOLDER}/{name}")
    return stuck


def _finished(disk: Disk, week: str, purged: Purged) -> bool:
    if not disk.exists(stub_path(week)):
        return False
    try:
        kept = read_stub(disk, week)
    except RecordDamaged:
        return False
    # The record names its newest stub; those before it are named by the stub after each.
    vouched = week != purged.week or kept.digest == purged.stub
    if not vouched or not kept.stub.is_of(disk.read(segment_path(week))):
        return False
    for path in (ledger_path(week), *KEPT_BESIDE, f"{REFUSED}/{week}.json", *_pieces(disk, week), segment_path(week)):
        if disk.exists(path):
            disk.remove(path)
    return True


def _pieces(disk: Disk, week: str) -> list[str]:
    return [f"{SET_ASIDE}/{name}" for name in disk.names(SET_ASIDE) if name.startswith(f"{week}-")]
