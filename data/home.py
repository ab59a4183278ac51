"""The home folder: what lies where, and the texts that are kept by their content."""

from __future__ import annotations

from hashlib import sha256

from data.disk import Disk
from data.journal import SET_ASIDE
from data.receipts import RECEIPTS
from data.segments import segment_weeks
from data.stubs import FOLDER as STUBS
from protocols.errors import RecordDamaged

LEDGER = "ledger"
TEXTS = "texts"
EXPORTS = "exports"
LOCK = "lock"


def ledger_path(week: str) -> str:
    """Promise the path of a week's ledger, like ledger/2026-W48.json."""
    return f"{LEDGER}/{week}.json"


def require_journal(disk: Disk) -> None:
    """Promise that a home without a journal is a new one.

    Raises RecordDamaged where other files show that there was a record: it must not start again as an empty one. Texts
    alone show nothing, they are kept before the event that adopts them.
    """
    if segment_weeks(disk):
        return
    for folder in (LEDGER, SET_ASIDE, STUBS, RECEIPTS):
        found = disk.names(folder)
        if found:
            raise RecordDamaged(
                f"the journal is missing though {folder}/{found[0]} is there; nothing has been changed: bring the "
                "journal folder back from a copy, or start in a new --home and keep this one"
            )


class Texts:
    """Protocols and chemistries in use, each kept whole under the SHA-256 of its UTF-8 bytes, written once."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk

    def keep(self, text: str) -> str:
        """Promise that the text is durable; gives its SHA-256 (64 hex).

        Raises DiskError, or RecordDamaged when another content lies under that name.
        """
        content = text.encode()
        digest = sha256(content).hexdigest()
        if self.holds(digest):
            self.get(digest)
        else:
            self._disk.replace(f"{TEXTS}/{digest}", content)
        return digest

    def holds(self, digest: str) -> bool:
        """Promise whether a text of that SHA-256 is kept."""
        return self._disk.exists(f"{TEXTS}/{digest}")

    def get(self, digest: str) -> str:
        """Promise the text of that SHA-256. Raises RecordDamaged when it is missing or not what was kept."""
        path = f"{TEXTS}/{digest}"
        if not self.holds(digest):
            raise RecordDamaged(f"{path} is missing; bring it back from an export, it travels with the record")
        content = self._disk.read(path)
        held = sha256(content).hexdigest()
        if held != digest:
            raise RecordDamaged(f"{path} holds a text of SHA-256 {held}; bring it back from an export")
        return content.decode()
