"""Opening a home folder: its disk, its lock, its journal, and the door into it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from data.disk import Disk
from data.door import Door
from data.genuine import Genuine
from data.home import LOCK, Texts, require_journal
from data.journal import Journal
from data.library import CLAIMS_FILE, LIMITS_FILE, shipped_claims_text, shipped_limits_text, shipped_protocol_texts
from protocols.clock import Clock
from protocols.shelf import Shelf


def shipped_shelf() -> Shelf:
    """Promise a shelf with every shipped protocol, claim and limit set, each read when it is first asked for."""
    return Shelf(shipped_protocol_texts(), shipped_claims_text(), CLAIMS_FILE, shipped_limits_text(), LIMITS_FILE)


def open_door(disk: Disk, clock: Clock, shelf: Shelf, device: str = "") -> Door:
    """Promise the door into the record on `disk`, made new where there is none. The caller holds the lock.

    Raises RecordDamaged, RecordTooNew, DiskError or ClockError; nothing is written then.
    """
    require_journal(disk)
    return Door(Journal(disk), Texts(disk), clock, shelf, device, Genuine(disk))


@contextmanager
def owned_door(disk: Disk, clock: Clock, who: str, device: str = "") -> Iterator[tuple[Door, str | None]]:
    """Promise the door of a home that this process alone owns, and the former owner where it died with the lock.

    Raises HomeBusy when another process owns the home.
    """
    former = disk.lock(LOCK, who)
    try:
        yield open_door(disk, clock, shipped_shelf(), device), former
    finally:
        disk.close()
