"""The storage under TinyDB: one file a week, replaced whole or not at all, never read unless it is as written.

The file is one line of JSON in a fixed frame; the SHA-256 is that of the document's bytes as they stand:

    {"sha256":"<64 hex>","document":{"tables":{...},"through":812,"v":1,"week":"2026-W48"}}

TinyDB's own file storage overwrites in place and would take a half-written file for damage only when it reads it; and a
storage that answers "nothing there" to damage lets the next write destroy what was left. This one does neither.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from hashlib import sha256
from typing import Any

from tinydb.storages import Storage

from data.canonical import canonical
from data.disk import Disk
from data.home import ledger_path
from protocols.errors import RecordDamaged, RecordTooNew

LEDGER_V = 1
_START, _MIDDLE, _END = b'{"sha256":"', b'","document":', b"}\n"
_TABLES, _THROUGH = b'{"tables":{', b',"through":'
_BODY_AT = len(_START) + 64 + len(_MIDDLE)


class WeekStorage(Storage):
    """TinyDB's two methods over the `Disk` promise, and how far the journal is folded in.

    `through` is the journal's seq as last read or written; the next write raises it to `folding`, in one with the
    tables. TinyDB reads again before it writes, so the two are kept apart.
    """

    def __init__(self, disk: Disk, week: str) -> None:
        self._disk = disk
        self._week = week
        self._path = ledger_path(week)
        self.through = 0
        self.folding = 0

    def read(self) -> dict[str, dict[str, Any]] | None:
        """Promise the tables as written; None only where there is no file.

        Raises RecordDamaged for anything that is not what was written, RecordTooNew for a newer version's file.
        """
        return self.read_cut(lambda body: body)

    def read_cut(self, cut: Callable[[bytes], bytes]) -> dict[str, dict[str, Any]] | None:
        """Promise the tables as `cut` leaves them, which is given the document's bytes once their hash fits.

        Raises as `read`, and RecordDamaged too where what is left is no such document.
        """
        if not self._disk.exists(self._path):
            self.through = 0
            return None
        document = self._opened(self._disk.read(self._path), cut)
        self.through = document["through"]
        tables: dict[str, dict[str, Any]] = document["tables"]
        return tables

    def write(self, data: dict[str, dict[str, Any]]) -> None:
        """Promise that the file holds these tables and how far they go, durably; on DiskError it holds what it held.

        Raises Defect for what JSON can't say (NaN, infinities, lone surrogates).
        """
        through = max(self.through, self.folding)
        body = canonical({"tables": data, "through": through, "v": LEDGER_V, "week": self._week})
        digest = sha256(body).hexdigest().encode()
        self._disk.replace(self._path, b"".join((_START, digest, _MIDDLE, body, _END)))
        self.through = through

    def read_through(self) -> int:
        """Promise how far the journal is folded in, 0 without a file; of the tables only the hash is looked at.

        Raises as `read`.
        """
        self.read_cut(_without_tables)
        return self.through

    def _opened(self, content: bytes, cut: Callable[[bytes], bytes]) -> dict[str, Any]:
        body = content[_BODY_AT : -len(_END)]
        digest = sha256(body).hexdigest()
        if content != b"".join((_START, digest.encode(), _MIDDLE, body, _END)):
            raise self._damaged(f"its {len(content)} bytes do not fit the hash they carry")
        try:
            document = json.loads(cut(body))
        except (ValueError, RecursionError) as error:
            raise self._damaged(f"its hash fits but it is not JSON ({error})") from error
        version = document.get("v") if isinstance(document, dict) else None
        if type(version) is int and version > LEDGER_V:
            raise RecordTooNew(
                f"{self._path} is of version {version}, this app knows up to {LEDGER_V}; "
                "install the newer app to read it"
            )
        whole = (
            version == LEDGER_V and isinstance(document.get("tables"), dict) and type(document.get("through")) is int
        )
        if not whole or document.get("week") != self._week:
            raise self._damaged(f"it is of week {document.get('week') if isinstance(document, dict) else None!r}")
        return dict(document)

    def _damaged(self, what: str) -> RecordDamaged:
        return RecordDamaged(
            f"{self._path}: {what}; nothing has been changed: the ledger of {self._week} can be "
            "rebuilt from the journal"
        )


def _without_tables(body: bytes) -> bytes:
    at = body.rfind(_THROUGH)
    framed = body.startswith(_TABLES) and at > 0 and body[at - 1 : at] == b"}"
    return b"".join((_TABLES, b"}", body[at:])) if framed else body
