"""Invented events and small records that the tests of the record share."""

from __future__ import annotations

from typing import Any

from data.disk import Disk
from data.journal import Journal
from data.memory_disk import MemoryDisk

WEEK = "2026-W48"
NEXT_WEEK = "2026-W49"


def event(number: int, **changes: Any) -> dict[str, Any]:
    """Promise the event of that number, as the door hands it to the journal."""
    return {
        "v": 1,
        "device": "H1",
        "kind": "look",
        "subject": f"H1-{number}",
        "refs": {"scope": "G7", "person": "P3"},
        "elapsed": 60_000 + number * 1000,
        "wall": f"2026-11-25T10:{number // 60:02d}:{number % 60:02d}.000+01:00",
        "boot": "boot-1",
        "by": "P3",
        "data": {"number": number, "bath_temp_c": 25.4},
        **changes,
    }


def opened(disk: Disk, every: int = 400) -> Journal:
    """Promise an open journal on the disk."""
    journal = Journal(disk, checkpoint_every=every)
    journal.open()
    return journal


def write(journal: Journal, first: int, last: int, week: str = WEEK) -> None:
    """Promise events `first` to `last` in the journal; a checkpoint's state names the event after it."""
    for number in range(first, last + 1):
        journal.append(event(number), week, lambda number=number: {"next": number})


def numbers(lines: Any) -> list[int]:
    """Promise the numbers of the events among some lines, checkpoints left out."""
    return [line["data"]["number"] for line in lines if line["kind"] != "checkpoint"]


def copied(disk: MemoryDisk) -> dict[str, bytes]:
    """Promise what the disk holds now."""
    return {path: bytes(data) for path, data in disk.files.items()}


def record(last: int = 5, every: int = 400) -> MemoryDisk:
    """Promise a disk with a record of the events 1 to `last`."""
    disk = MemoryDisk()
    write(opened(disk, every), 1, last)
    return disk
