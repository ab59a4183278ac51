"""The way from the last checkpoint to the end of the record, taken once when the journal is opened.

Reads only. Applies the rule for the tail: an unterminated piece at the very end of the record, beyond the witnessed
head, is a torn write; everything else that does not fit is damage.
"""

from __future__ import annotations

from typing import Any

from data.disk import Disk
from data.line import NO_LINE_BEFORE
from data.segments import CHECKPOINT, Placed, damaged, read_placed, segment_path, segment_weeks
from data.stubs import gone_weeks, read_stub
from data.witness import Sight
from protocols.errors import RecordDamaged

# The head of a record without lines.
EMPTY = Sight(0, NO_LINE_BEFORE, "", 0, "", 0, 0, "", "")


class Walk:
    """Follows the record on `disk` and holds what it found.

    `head` is the last line with the clocks as last seen; `checkpoint` the last checkpoint line and `events` the lines
    after it; `torn` the week and first byte of a torn write. Raises RecordDamaged, RecordTooNew or DiskError.
    """

    def __init__(self, disk: Disk, known_v: int, sight: Sight | None) -> None:
        self._disk = disk
        self._known_v = known_v
        self._sight = sight
        self._met = False
        self.head = EMPTY
        self.checkpoint: dict[str, Any] | None = None
        self.events: list[dict[str, Any]] = []
        self.torn: tuple[str, int] | None = None
        weeks = segment_weeks(disk)
        if sight is None:
            self._without_witness(weeks)
        else:
            self._from_witness(sight, weeks)
            if sight.seq == self.head.seq:
                # The clocks may have been seen again after the last line.
                self.head = self.head._replace(elapsed=sight.elapsed, wall=sight.wall, boot=sight.boot)

    def _from_witness(self, sight: Sight, weeks: list[str]) -> None:
        gone = gone_weeks(self._disk) if sight.segment not in weeks else []
        if sight.segment in gone and weeks:
            # The witness may lag behind a purge too. Then the stub says what the rest has to follow.
            stub = read_stub(self._disk, gone[-1]).stub
            self.head = EMPTY._replace(seq=stub.last_seq, hash=stub.head)
            for week in weeks:
                self._follow(week, 0, week == weeks[-1])
            return
        if sight.segment not in weeks:
            raise damaged(sight.segment, 0, f"the whole segment is missing; it held the last line, {sight.seq}")
        # The witness may lag, even behind a change of weeks. A segment without a byte is one that was never begun.
        later = [week for week in weeks if week > sight.segment and self._disk.size(segment_path(week))]
        try:
            self._follow(sight.segment, sight.checkpoint_offset, not later)
            self._require_met(sight)
        except RecordDamaged:
            # The whole segment decides, and names the first place that does not fit.
            self.head, self.checkpoint, self.events, self.torn = EMPTY, None, [], None
            self._follow(sight.segment, 0, not later)
            self._require_met(sight)
        for week in later:
            self._follow(week, 0, week == later[-1])

    def _without_witness(self, weeks: list[str]) -> None:
        for week in reversed(weeks):
            last = self.torn is None
            self._follow(week, 0, last)
            if self.head is not EMPTY:
                return

    def _follow(self, week: str, offset: int, last: bool) -> None:
        prev, seq = (None, None) if self.head is EMPTY else (self.head.hash, self.head.seq + 1)
        end = offset
        for placed in read_placed(self._disk, week, self._known_v, offset, prev, seq):
            self._accept(week, placed)
            end = placed.end
        if end < self._disk.size(segment_path(week)):
            if not last:
                raise damaged(week, end, "it has no line end though the record goes on after it")
            self.torn = (week, end)

    def _accept(self, week: str, placed: Placed) -> None:
        line = placed.envelope
        checkpoint_at = (self.head.checkpoint_segment, self.head.checkpoint_offset)
        if line["kind"] == CHECKPOINT:
            self.checkpoint, self.events = line, []
            checkpoint_at = (week, placed.start)
        else:
            self.events.append(line)
        self.head = Sight(
            line["seq"], line["hash"], week, placed.end, *checkpoint_at, line["elapsed"], line["wall"], line["boot"]
        )
        sight = self._sight
        if sight is not None and (week, placed.end) == (sight.segment, sight.size):
            self._met = (sight.seq, sight.hash) == (line["seq"], line["hash"])

    def _require_met(self, sight: Sight) -> None:
        if not self._met:
            raise damaged(
                sight.segment,
                min(sight.size, self.head.size),
                f"the last line witnessed (seq {sight.seq}, hash {sight.hash}) is not at its place before byte "
                f"{sight.size}",
            )
