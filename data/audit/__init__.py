"""Verifying a record: chain, witness, states, texts, ledger and exports, each against the others. Writes nothing.

What this can prove: that nothing was changed, lost or put in by accident or by anybody who did not also write every
later line, the witness, the ledger and all exports anew. Whoever owns the handheld can do that; an export that left it
earlier shows it.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from data.audit.arrived import ReceiptFile
from data.audit.chain import ChainAudit, Segment
from data.audit.difference import Difference
from data.audit.exports import ExportFolder
from data.audit.gap import GapAudit
from data.audit.ledgers import LedgerFile
from data.audit.snapshot import Snapshot, witness_differences
from data.audit.story import StoryAudit, Told
from data.disk import Disk
from data.exporters.csv_week import CONTENTS
from data.home import EXPORTS, LEDGER, TEXTS, Texts, ledger_path
from data.journal import SET_ASIDE
from data.ledger import Ledger
from data.plain_files import is_folder
from data.real_disk import RealDisk
from data.receipts import Receipts
from data.segments import FOLDER, WEEK, segment_path
from data.witness import PATH
from protocols.errors import RecordDamaged
from protocols.numerals import counted

__all__ = ["Audit", "Difference", "exports_in", "is_home", "verify_exports", "verify_home"]


def is_home(folder: Path) -> bool:
    """Promise whether a folder holds a record, or what is left of one."""
    return is_folder(folder) and any((folder / name).exists() for name in (FOLDER, PATH, LEDGER))


def _is_export(folder: Path) -> bool:
    """Promise whether a folder is an exported week."""
    return (folder / CONTENTS).exists() or bool(WEEK.fullmatch(folder.name) and (folder / "events.csv").exists())


def exports_in(folder: Path) -> list[Path]:
    """Promise the exported weeks in a folder, or the folder itself where it is one; oldest first."""
    if not is_folder(folder):
        return []
    if _is_export(folder):
        return [folder]
    return sorted(p for p in folder.iterdir() if is_folder(p) and WEEK.fullmatch(p.name))


class Audit:
    """One audit of a home. `counts` says what was looked at, once `differences` has run to its end."""

    def __init__(
        self,
        disk: Disk,
        exports: list[Path],
        chain_only: bool = False,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        """Promise an audit of the home on `disk` and of these exported weeks of it.

        `pause` is told the seconds to wait between two looks at a record that seems to be in the middle of a write.
        """
        self._pause = pause
        self._disk = disk
        self._exports = {path.name: path for path in ([] if chain_only else exports)}
        self._chain_only = chain_only
        # Hears the number of the week that is looked at, from 0, and how many there are.
        self.tell: Callable[[int, int], object] = lambda at, of: None
        self.counts: Counter[str] = Counter()

    def differences(self) -> Iterator[Difference]:
        """Promise every difference found: of the journal the first one in each segment, in order.

        Memory goes with the longest week, not with the age of the record. Raises DiskError.
        """
        ledgers = [] if self._chain_only else Ledger(self._disk).weeks()
        self._snapshot = snapshot = Snapshot.settle(self._disk, self._pause)
        weeks = list(snapshot.sizes)
        self._receipts = frozenset(() if self._chain_only else Receipts(self._disk).weeks())
        self._newest_ledger = ledgers[-1] if ledgers else ""
        yield from witness_differences(snapshot)
        self._gap = gap = GapAudit(self._disk, weeks)
        yield from gap.differences()
        self.counts["purged weeks"] = len(gap.stubs)
        chain = ChainAudit(self._disk, snapshot, gap.last)
        self._story = StoryAudit(gap.last, gap.carried)
        self._story.broken = gap.broken
        yield from chain.missing()
        if not weeks and (ledgers or self._disk.names(SET_ASIDE)):
            yield Difference(FOLDER, "the journal is not there, though other files show that there was one")
        for number, week in enumerate(weeks):
            self.tell(number, len(weeks))
            segment = chain.segment(week)
            self.counts.update(segments=1, lines=segment.lines, bytes=len(segment.data))
            yield from segment.differences
            gap.see(segment.data[: segment.size])
            if not self._chain_only:
                yield from self._week(segment, closed=week != weeks[-1])
        yield from gap.against_record()
        if not self._chain_only:
            yield from self._texts()
            for week in sorted({*ledgers, *self._exports, *self._receipts} - {*weeks}):
                yield from self._strangers(week, ledgers)

    def _week(self, segment: Segment, closed: bool) -> Iterator[Difference]:
        """Compare what was made of one week with the week, or with itself where the story has broken off."""
        week, story = segment.week, self._story
        ledger = LedgerFile(self._disk, week) if self._disk.exists(ledger_path(week)) else None
        export = ExportFolder(self._exports[week]) if week in self._exports else None
        receipts = ReceiptFile(self._disk, week) if week in self._receipts else None
        self.counts.update(ledgers=int(ledger is not None), exports=int(export is not None))
        told = Told(None)
        if not story.broken:
            named = {one.through for one in (ledger, export) if one is not None}
            wanted = frozenset(named | (receipts.throughs if receipts else set()))
            told = story.segment(segment, closed, wanted)
            if told.difference is not None and not segment.differences:
                yield told.difference
            # Lines are not what they were, or not there: of later weeks nothing can be told.
            story.broken = story.broken or bool(segment.differences)
        if told.read is not None:
            self.counts["cycles"] += len(told.read.ended)
        if ledger is not None:
            yield from self._ledger(ledger, told, closed and week != self._newest_ledger)
        elif week < self._newest_ledger:
            yield Difference(ledger_path(week), "it is not there, though later weeks have a ledger")
        if export is not None:
            yield from self._export(export, told)
        if receipts is not None and (unlike := self._arrived(receipts, told)) is not None:
            yield unlike

    def _arrived(self, receipts: ReceiptFile, told: Told) -> Difference | None:
        if receipts.fault is not None or told.read is None:
            return receipts.fault
        unlike = receipts.against(told.hashes, told.read.through)
        return None if unlike is not None and self._excused() else unlike

    def _ledger(self, ledger: LedgerFile, told: Told, complete: bool) -> Iterator[Difference]:
        if ledger.fault is not None:
            yield ledger.fault
        elif told.read is not None:
            last = told.read.through
            if ledger.through not in told.hashes or (complete and ledger.through != last):
                if not self._excused():
                    yield Difference(ledger.path, f"it is folded through seq {ledger.through}, the week through {last}")
                return
            unlike = ledger.against(told.documents(ledger.through))
            if unlike is not None:
                yield unlike

    def _export(self, export: ExportFolder, told: Told) -> Iterator[Difference]:
        if export.fault is not None:
            yield export.fault
        elif told.read is None:
            yield from export.alone()
        else:
            last, through = told.read.through, export.through
            complete = told.read.closed and through == last
            if through not in told.hashes or (export.closed and not complete):
                if not self._excused():
                    state = "a closed" if export.closed else "an open"
                    what = f"it says {state} week through seq {through}, the journal has it through {last}"
                    yield Difference(f"{export.folder.name}/{CONTENTS}", what)
                return
            read = told.read.as_of(through, told.hashes[through], export.closed)
            yield from export.against(self._disk, read, told.documents(through), self._gap.stubs)

    def _excused(self) -> bool:
        """Whether something may go further than what was read: lines are damaged, or the app goes on writing."""
        return self._story.broken or self._snapshot.grown(self._disk)

    def summary(self) -> str:
        """Promise in one line what was looked at."""
        names = ["segments", "lines"]
        if not self._chain_only:
            names += ["cycles", "ledgers", "exports", "texts"]
        if self.counts["purged weeks"]:
            names.append("purged weeks")
        return ", ".join(counted(self.counts[name], name.removesuffix("s")) for name in names)

    def _texts(self) -> Iterator[Difference]:
        texts = Texts(self._disk)
        names = self._disk.names(TEXTS)
        self.counts["texts"] = len(names)
        for name in names:
            try:
                texts.get(name)
            except (RecordDamaged, UnicodeDecodeError) as error:
                yield Difference(f"{TEXTS}/{name}", str(error).removeprefix(f"{TEXTS}/{name} "))
        for sha in sorted(self._story.texts.keys() - {*names}):
            yield self._story.texts[sha]

    def _strangers(self, week: str, ledgers: list[str]) -> Iterator[Difference]:
        """A week that was exported or folded, and of which the journal has nothing."""
        if self._snapshot.grown(self._disk):
            return
        if week in self._gap.stubs:
            if week in ledgers:
                yield Difference(ledger_path(week), "its week was purged, and it is still here")
            if week in self._receipts:
                receipts = ReceiptFile(self._disk, week)
                unlike = receipts.fault or receipts.against_stub(self._gap.stubs[week])
                yield from [unlike] if unlike is not None else []
            if week in self._exports:
                yield from ExportFolder(self._exports[week]).of_purged(self._gap.stubs[week])
            return
        what = f"the journal has no {segment_path(week)}, so it can't be compared"
        if week in ledgers:
            yield Difference(ledger_path(week), what)
        if week in self._receipts:
            yield Difference(ReceiptFile(self._disk, week).path, what)
        if week in self._exports:
            yield Difference(self._exports[week].name, what)
            export = ExportFolder(self._exports[week])
            yield from [export.fault] if export.fault is not None else export.alone()


def verify_home(home: Path, exports: list[Path] | None = None, chain_only: bool = False) -> Audit:
    """Promise the audit of a home folder, with the exports in it or with those given."""
    return Audit(RealDisk(home), exports_in(home / EXPORTS) if exports is None else exports, chain_only)


def verify_exports(exports: list[Path]) -> Iterator[Difference]:
    """Promise what is wrong with exported weeks in themselves, where no journal can be asked. Raises DiskError."""
    for folder in exports:
        export = ExportFolder(folder)
        yield from [export.fault] if export.fault is not None else export.alone()
