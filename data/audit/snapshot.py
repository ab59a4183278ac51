"""How far a record reached when an audit began, taken without its lock, so also while the app goes on writing.

A line is written first and the witness notes it a moment later. A record at rest, or caught between two lines, ends
where its witness says; only one that was cut off, or changed, stays otherwise however often one looks.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from data.audit.difference import Difference
from data.disk import Disk
from data.segments import segment_path, segment_weeks
from data.witness import PATH, SLOT_LENGTH, Sight, Witness, whole_slots

# An app that writes all day long rests between two taps; this long it is given to do so.
_LOOKS, _PAUSE_S = 10, 0.02


@dataclass(frozen=True)
class Snapshot:
    """Segments with bytes, oldest first, with their sizes then, and what the witness said (None where none did)."""

    sizes: dict[str, int]
    sight: Sight | None
    witness: bytes

    @property
    def settled(self) -> bool:
        """Whether the record ends where the witness says, or there is neither."""
        if not self.sizes or self.sight is None:
            return not self.sizes and self.sight is None
        last = next(reversed(self.sizes))
        return (last, self.sizes[last]) == (self.sight.segment, self.sight.size)

    def grown(self, disk: Disk) -> bool:
        """Promise whether the record has gone on since."""
        return Snapshot.take(disk).sizes != self.sizes

    @staticmethod
    def take(disk: Disk) -> Snapshot:
        """Promise the state of this moment."""
        sizes = {week: disk.size(segment_path(week)) for week in segment_weeks(disk)}
        content = disk.read(PATH) if disk.exists(PATH) else b""
        return Snapshot({week: size for week, size in sizes.items() if size}, Witness(disk).read(), content)

    @staticmethod
    def settle(disk: Disk, pause: Callable[[float], None] = time.sleep) -> Snapshot:
        """Promise a settled state where there is one, else the last of several looks, a `pause` apart."""
        found = Snapshot.take(disk)
        for _ in range(_LOOKS):
            if found.settled and not witness_differences(found):
                break
            pause(_PAUSE_S)
            found = Snapshot.take(disk)
        return found


def witness_differences(found: Snapshot) -> list[Difference]:
    """Promise what is wrong with the witness's own bytes; what it says of the journal is not looked at."""
    whole = whole_slots(found.witness)
    if not found.sizes and not found.witness:
        return []
    if not any(whole):
        return [Difference(PATH, "no witness: whether the last lines are all there can't be told", byte=0)]
    differences = []
    for number, is_whole in enumerate(whole):
        slot = found.witness[number * SLOT_LENGTH : (number + 1) * SLOT_LENGTH]
        # The first note of a record goes into the second slot, and leaves the first one empty.
        if not is_whole and slot.strip(b"\0"):
            what = "this slot is not as it was written: a note cut off by a power cut, or changed since"
            differences.append(Difference(PATH, f"{what}; the other slot holds", byte=number * SLOT_LENGTH))
    if len(found.witness) > 2 * SLOT_LENGTH:
        differences.append(Difference(PATH, "bytes follow the two slots", byte=2 * SLOT_LENGTH))
    return differences
