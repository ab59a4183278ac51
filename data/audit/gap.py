"""Purged weeks: the signed gap at the beginning of a record, its stubs against each other, the key and the journal.

A gap is only ever at the beginning and has no holes: each stub follows the one before it, the first one begins with
line 1, the record goes on after the last one, and its newest event of a purge names that one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from data.audit.difference import Difference
from data.disk import Disk
from data.line import NO_LINE_BEFORE
from data.segments import segment_path
from data.signing import KEY_FILE, SigningUnavailable, home_signer
from data.stubs import FOLDER, Kept, Stub, carried_lines, carried_path, read_stub, stub_path, stub_weeks
from protocols.errors import RecordDamaged

_PURGE = b'"kind":"purge"'


class GapAudit:
    """The stubs of a home whose segments have these weeks. `last` is the stub after which the record goes on."""

    def __init__(self, disk: Disk, weeks: list[str]) -> None:
        self._disk = disk
        self._weeks = weeks
        self._kept: dict[str, Kept] = {}
        self._named: dict[str, Any] = {}
        self._unfinished: list[str] = []
        self.carried: list[dict[str, Any]] = []
        self._unread = False
        # Nothing more can be told of the record: what it rests on is not as it was.
        self.broken = False

    @property
    def last(self) -> Stub | None:
        return next((kept.stub for kept in reversed(self._kept.values())), None)

    @property
    def stubs(self) -> dict[str, Stub]:
        """The purged weeks, oldest first."""
        return {week: kept.stub for week, kept in self._kept.items()}

    def differences(self) -> Iterator[Difference]:
        """Promise what is wrong with the stubs in themselves. Raises DiskError."""
        public = self._public()
        before, seq, prev = "", 0, NO_LINE_BEFORE
        for week in stub_weeks(self._disk):
            path = stub_path(week)
            if week in self._weeks:
                self._unfinished.append(week)
                continue
            try:
                kept = read_stub(self._disk, week)
            except RecordDamaged as error:
                self.broken = self._unread = True
                yield Difference(path, str(error).removeprefix(f"{path} "))
                continue
            stub = kept.stub
            self._kept[week] = kept
            if self._weeks and week > self._weeks[0]:
                yield Difference(
                    path, f"it stands for a week after {segment_path(self._weeks[0])}, which is still here"
                )
            if (stub.first_seq - 1, stub.prev, stub.before) != (seq, prev, before):
                what = "the first line" if not seq else f"line {seq}, where the stub before it ends"
                yield Difference(path, f"it does not follow {what}; a stub is missing, or is another one", seq=seq + 1)
            if fault := _signature_fault(kept, public):
                yield Difference(path, fault)
            before, seq, prev = kept.digest, stub.last_seq, stub.head
        yield from self._what_is_carried()
        for week in self._unfinished:
            what = "a purge of this week was cut off; Basinbell finishes it, or takes it back, when it opens the record"
            yield Difference(stub_path(week), what)

    def _public(self) -> str:
        if not self._disk.exists(KEY_FILE):
            return ""
        try:
            return home_signer(self._disk, used_before=True).public
        except (RecordDamaged, SigningUnavailable):
            return ""

    def _what_is_carried(self) -> Iterator[Difference]:
        last = self.last
        if last is None:
            return
        try:
            self.carried = [line for line, _ in carried_lines(self._disk)]
        except RecordDamaged as error:
            self.broken = True
            path = carried_path(last.week)
            yield Difference(path, str(error).removeprefix(f"{path} "))
        for name in self._disk.names(FOLDER):
            week = name.removesuffix(".jsonl")
            if name.endswith(".jsonl") and (week != last.week or not last.carried) and week not in self._unfinished:
                yield Difference(f"{FOLDER}/{name}", "no stub lists what it carries")

    def see(self, data: bytes) -> None:
        """Promise that the newest event of a purge among these lines is known."""
        at = data.rfind(_PURGE)
        if at < 0:
            return
        start = data.rfind(b"\n", 0, at) + 1
        try:
            line = json.loads(data[start : data.find(b"\n", at)])
        except (ValueError, RecursionError):
            return  # named by the chain
        if line.get("kind") == "purge":
            self._named = line

    def against_record(self) -> Iterator[Difference]:
        """Promise what the record, once all of it was seen, says otherwise than the newest stub."""
        week, last = self._named.get("subject", ""), self.last
        if self._unread:
            return
        if week in self._weeks or (not week and last is None):
            return  # nothing was purged, or its end is told as unfinished
        if last is None or week != last.week:
            seq = self._named.get("seq")
            if week and (last is None or week > last.week):
                yield Difference(stub_path(week), f"it is not there, though the record purged that week (line {seq})")
            elif last is not None:
                yield Difference(stub_path(last.week), "no event of the record purged that week")
            return
        said, digest = self._named["data"], self._kept[week].digest
        if said.get("stub") != digest:
            yield Difference(stub_path(week), f"its SHA-256 is {digest}, the record's is {said.get('stub')}")


def _signature_fault(kept: Kept, public: str) -> str:
    key = public or kept.stub.key
    try:
        if kept.signed_by(key):
            return ""
    except SigningUnavailable as error:
        return str(error)
    return f"its signature is not that of the key {key[:16]}..."
