"""Practice and demonstration records: told by the name of their device, which stands, hashed, in every line.

Nothing in them happened to a real scope. They are never exported, sent or gathered, and every command that shows one
says so.
"""

from __future__ import annotations

import json
from pathlib import Path

from data.real_disk import RealDisk
from data.segments import segment_path, segment_weeks
from protocols.errors import BasinbellError, DiskError

PRACTICE, DEMO = "practice", "demo"
MARK = "PRACTICE: nothing in this record happened to a real scope"


class PracticeRecord(BasinbellError):
    """A practice record was to be used as a real one; use the record of the handheld itself."""


def is_practice(device: str) -> bool:
    """Promise whether a device's name is that of practice or the demonstration; a real handheld is never named so."""
    return device in (PRACTICE, DEMO)


def require_real(device: str, what: str) -> None:
    """Raise PracticeRecord, naming what is refused, where a device's record is practice."""
    if is_practice(device):
        raise PracticeRecord(
            f"{MARK} (device {device!r}), so {what}; name the home folder of the handheld's own record with --home"
        )


def is_practice_home(home: Path) -> bool:
    """Promise whether the record in a home folder is practice; what can't be read is for others to name."""
    disk = RealDisk(home)
    try:
        first = next(iter(segment_weeks(disk)), "")
        line = disk.read(segment_path(first)).split(b"\n", 1)[0] if first else b"{}"
        said = json.loads(line)
    except (DiskError, ValueError, RecursionError):
        return False
    return isinstance(said, dict) and is_practice(str(said.get("device", "")))
