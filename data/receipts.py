"""Receipts: which week has arrived where, and how far it went then. One file a week, `receipts/<week>.json`.

A receipt is written only after all of an export was read back from its destination and found the same. Losing one
costs nothing but another look: sending again finds the export there and adds nothing. `verify` holds them against the
record: the last line that a receipt names must be that line of the record.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from hashlib import sha256

from data.canonical import canonical
from data.disk import Disk
from data.segments import WEEK, weeks_in
from data.unchanged import mark, stamp
from protocols.errors import Defect, RecordDamaged

RECEIPTS = "receipts"
# Since version 2 a file carries the SHA-256 of the rest of it, so that a changed bit shows.
RECEIPTS_V, RECEIPTS_V_WITHOUT_HASH = 2, 1
_KINDS = {"to": str, "through": int, "head": str, "closed": bool, "manifest": str, "at": str}


@dataclass(frozen=True, slots=True)
class Receipt:
    """An export of a week as read back: `to` names the destination, `manifest` is its SHA-256, `at` the wall time."""

    to: str
    through: int
    head: str
    closed: bool
    manifest: str
    at: str


class Receipts:
    """The receipts of one home."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk

    def any(self) -> bool:
        """Promise whether anything was ever sent from this home, as far as its receipts say."""
        return bool(self._disk.names(RECEIPTS))

    def weeks(self) -> list[str]:
        """Promise the weeks that have receipts, oldest first."""
        return weeks_in(self._disk, RECEIPTS, ".json")

    def week(self, week: str) -> list[Receipt]:
        """Promise the receipts of a week, the last one of every destination. Raises RecordDamaged or DiskError."""
        path = f"{RECEIPTS}/{week}.json"
        if not self._disk.exists(path):
            return []
        try:
            held = json.loads(self._disk.read(path))
            if held["v"] != RECEIPTS_V_WITHOUT_HASH and held.pop("sha256") != sha256(canonical(held)).hexdigest():
                raise ValueError("its bytes do not fit the hash they carry")
            receipts = [Receipt(**one) for one in held["receipts"]]
            for receipt in receipts:
                if any(type(getattr(receipt, name)) is not kind for name, kind in _KINDS.items()):
                    raise TypeError(f"{receipt}")
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError, Defect) as error:
            raise RecordDamaged(
                f"{path} is not as it was written ({error}); take it away: the week is then looked for and sent again"
            ) from error
        return receipts

    def last(self, week: str, to: str) -> Receipt | None:
        """Promise the receipt of a week at one destination. Raises as `week`."""
        return _at(to, self.week(week))

    def keep(self, week: str, receipt: Receipt) -> None:
        """Promise that the receipt is durable; it takes the place of an older one of the same destination.

        Raises DiskError, or Defect for another text than a week.
        """
        if not WEEK.fullmatch(week):
            raise Defect(f"{week!r} is not a week like 2026-W48")
        others = [one for one in self.week(week) if one.to != receipt.to]
        held = sorted([*others, receipt], key=lambda one: one.to)
        said = {"v": RECEIPTS_V, "week": week, "receipts": [asdict(one) for one in held]}
        content = canonical({**said, "sha256": sha256(canonical(said)).hexdigest()})
        self._disk.replace(f"{RECEIPTS}/{week}.json", content + b"\n")


class Remembered:
    """Receipts for who asks for all weeks time and again: each file is read once, and again only when it has changed.

    What is asked for is as of the last `begin`. A file damaged in place is noticed after the next change in its folder,
    at the latest when the app starts again.
    """

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        # Per week: in which state of the folder it was seen last, its file then, and what that holds.
        self._seen: dict[str, tuple[int, str, list[Receipt]]] = {}
        self._folder, self._state = "", 0

    def begin(self) -> None:
        """Look once whether any receipt has come, gone or been written anew."""
        now = stamp(self._disk, RECEIPTS)
        if now == "" or now != self._folder:
            self._state += 1
        self._folder = now

    def last(self, week: str, to: str) -> Receipt | None:
        """Promise the receipt of a week at one destination. Raises as `Receipts.week`."""
        state, file, receipts = self._seen.get(week, (0, "", []))
        if state != self._state or state == 0:
            now = mark(self._disk, f"{RECEIPTS}/{week}.json")
            if now == "" or now != file:
                receipts = Receipts(self._disk).week(week)
            self._seen[week] = (self._state, now, receipts)
        return _at(to, receipts)


def _at(to: str, receipts: list[Receipt]) -> Receipt | None:
    """The receipt of one destination."""
    return next((receipt for receipt in receipts if receipt.to == to), None)
