"""Reading a record beside the app that owns it: no lock is taken and nothing is written.

The record is read up to the line that its witness names, so that a line being written meanwhile is never met half done.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from data.audit.snapshot import Snapshot
from data.disk import Disk
from data.home import require_journal
from data.real_disk import RealDisk
from data.segments import read_whole, segment_weeks
from data.stubs import carried_lines
from protocols.errors import RecordDamaged
from protocols.event import SCHEMA


class Beside:
    """A record as of the moment it is looked at; gives what `data.gather.read_week` asks of a journal."""

    def __init__(self, disk: Disk) -> None:
        """Raises RecordDamaged where no witness says how far the record goes, or DiskError."""
        require_journal(disk)
        sight = Snapshot.settle(disk).sight
        weeks = segment_weeks(disk)
        # None at all, or one that lags behind a purge: either way the end of the record is not vouched for.
        if weeks and (sight is None or sight.segment not in weeks):
            raise RecordDamaged("nothing says how far the record goes; open it with the app once, or run verify")
        self.disk = disk
        self._head = (sight.seq, sight.hash) if sight is not None else (0, "")
        self._weeks = [week for week in segment_weeks(disk) if sight is not None and week <= sight.segment]

    @property
    def head(self) -> tuple[int, str]:
        """Promise seq and hash of the last line looked at."""
        return self._head

    def segments(self) -> list[str]:
        """Promise the weeks of the record, oldest first."""
        return self._weeks

    def iter_segment(self, week: str) -> Iterator[dict[str, Any]]:
        """Promise the lines of one week, each checked. Raises RecordDamaged or RecordTooNew."""
        return read_whole(self.disk, week, SCHEMA, None, None)

    def carried(self) -> list[tuple[dict[str, Any], bytes]]:
        """Promise the lines that purged weeks left behind for later ones, each with its bytes. Raises RecordDamaged."""
        return carried_lines(self.disk)


def beside(home: Path) -> Beside:
    """Promise the record of a home, read only. Raises as `Beside`."""
    return Beside(RealDisk(home))
