"""Receipts, against the lines of the record that they name."""

from __future__ import annotations

from collections.abc import Mapping

from data.audit.difference import Difference
from data.disk import Disk
from data.receipts import RECEIPTS, Receipt, Receipts
from data.stubs import Stub
from protocols.errors import RecordDamaged


class ReceiptFile:
    """One week's receipts as they stand; `fault` says what is wrong with the file in itself."""

    def __init__(self, disk: Disk, week: str) -> None:
        self.path = f"{RECEIPTS}/{week}.json"
        self.fault: Difference | None = None
        self.receipts: list[Receipt] = []
        try:
            self.receipts = Receipts(disk).week(week)
        except RecordDamaged as error:
            self.fault = Difference(self.path, str(error).removeprefix(f"{self.path} "))

    @property
    def throughs(self) -> set[int]:
        """The seqs of the lines that the receipts name."""
        return {receipt.through for receipt in self.receipts}

    def against(self, hashes: Mapping[int, str], last: int) -> Difference | None:
        """Promise the first receipt that names another line than the week has; `last` is the week's last seq."""
        for receipt in self.receipts:
            if hashes.get(receipt.through) != receipt.head or (receipt.closed and receipt.through != last):
                what = f"the week that arrived at {receipt.to} went through line {receipt.through} with another hash"
                return Difference(self.path, what, seq=receipt.through)
        return None

    def against_stub(self, stub: Stub) -> Difference | None:
        """Promise what a receipt of a purged week says otherwise than its stub."""
        for receipt in self.receipts:
            if receipt.closed and (receipt.through, receipt.head) != (stub.last_seq, stub.head):
                return Difference(self.path, f"what arrived at {receipt.to} is not the week that was purged")
        return None
