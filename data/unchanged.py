"""Whether a folder of the home still holds the files it held, and whether a file is still the one it was.

Of a folder it is asked at once, however many files are in it.
A folder's own time of change (ctime) moves whenever a file comes in, leaves, or is replaced by renaming, and nobody can
set it back, not even by restoring a copy. What is written into a file in place does not move it.
"""

from __future__ import annotations

import os
import time

from data.disk import Disk
from data.real_disk import RealDisk

# File systems count time in steps: the kernel's tick, on cards two seconds. Within one step two changes look like one.
_STEP_NS = 2_000_000_000
now_ns = time.time_ns


def stamp(disk: Disk, folder: str) -> str:
    """Promise a text that is another one once files of a folder have come, gone or been replaced.

    Take it before looking into the folder. "" where that can't be promised: the folder has changed within the last
    two seconds, or in a time to come, or the disk is not one of real files.
    """
    there = _stat(disk, folder)
    if there is None or now_ns() - there.st_ctime_ns <= _STEP_NS:
        return ""
    return f"{there.st_ino}:{there.st_ctime_ns}"


def mark(disk: Disk, path: str) -> str:
    """Promise a text that is another one once a file was replaced, written into or cut; "" where that can't be told."""
    there = _stat(disk, path)
    return "" if there is None else f"{there.st_size}:{there.st_mtime_ns}:{there.st_ino}"


def _stat(disk: Disk, path: str) -> os.stat_result | None:
    """What the system says of a file or folder of a real disk; None where it says nothing."""
    if not isinstance(disk, RealDisk):
        return None
    try:
        return (disk.root / path).stat()
    except OSError:
        return None
