"""The head witness: a note beside the journal that says where its last line ends and when the clocks were last seen.

The note is overwritten in place and never synced, so it may lag behind the journal but is never ahead of it: a line
is durable before the note names it. That is what tells a torn write (beyond the witnessed head) from damage (before
it). The file `head` has two slots of fixed size that are written in turn, so that a torn write of one leaves the other.
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from data.canonical import quote
from data.disk import Disk
from data.line import sha256_text
from protocols.errors import Defect

PATH = "head"
# One slot lies within one sector of the usual 512 bytes, which a power cut leaves old or new.
SLOT_LENGTH = 512
_TEXT_LENGTH = SLOT_LENGTH - 65


class Sight(NamedTuple):
    """What the witness saw last.

    `seq` and `hash` of the last line, `segment` it lies in and `size` of that segment up to its end; where the last
    checkpoint line starts; and the clocks at the last line or at a later `touch` (elapsed in ms, wall as RFC 3339).
    """

    seq: int
    hash: str
    segment: str
    size: int
    checkpoint_segment: str
    checkpoint_offset: int
    elapsed: int
    wall: str
    boot: str


class Witness:
    """The two slots of the file `head` on a disk."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        # Counts writes: the slot after the best one is always the other one, also when it was written by `touch`.
        self._count = 0

    def read(self) -> Sight | None:
        """Promise the newest whole slot, or None where there is none; raises DiskError when it can't be read."""
        data = self._disk.read(PATH) if self._disk.exists(PATH) else b""
        slots = [_parse(data[start : start + SLOT_LENGTH]) for start in (0, SLOT_LENGTH)]
        whole = [slot for slot in slots if slot is not None]
        if not whole:
            return None
        self._count, sight = max(whole, key=lambda slot: (slot[1].seq, slot[0]))
        return sight

    def slot(self, sight: Sight) -> bytes:
        """Promise the bytes for the next `write`; raises Defect when the names in it do not fit a slot.

        Separate from `write` so that whatever is wrong with them shows before the journal has the line.
        """
        seq, head, segment, size, at_segment, at_offset, elapsed, wall, boot = sight
        # Members in canonical order; only the two texts that come from elsewhere need quoting.
        text = (
            f'{{"boot":{quote(boot)},"checkpoint":{{"offset":{at_offset},"segment":"{at_segment}"}},'
            f'"count":{self._count + 1},"elapsed":{elapsed},"hash":"{head}","segment":"{segment}","seq":{seq},'
            f'"size":{size},"wall":{quote(wall)}}}'
        ).encode()
        if len(text) > _TEXT_LENGTH:
            raise Defect(f"the head of {len(text)} bytes does not fit {_TEXT_LENGTH}; boot and wall must be short")
        text = text.ljust(_TEXT_LENGTH)
        return b"".join((text, sha256_text(text).encode(), b"\n"))

    def write(self, slot: bytes) -> None:
        """Promise that the slot is seen by readers; DiskError leaves the other, older slot as it is."""
        # Counted only when done: after a failure the next write takes the same slot, not the last whole one.
        self._disk.scribble(PATH, slot, (self._count + 1) % 2 * SLOT_LENGTH)
        self._count += 1


def whole_slots(content: bytes) -> tuple[bool, bool]:
    """Promise of both slots in the bytes of the file whether they are as they were written."""
    first, second = (content[start : start + SLOT_LENGTH] for start in (0, SLOT_LENGTH))
    return _parse(first) is not None, _parse(second) is not None


def _parse(slot: bytes) -> tuple[int, Sight] | None:
    text = slot[:_TEXT_LENGTH]
    if len(slot) != SLOT_LENGTH or slot[_TEXT_LENGTH:] != sha256_text(text).encode() + b"\n":
        return None
    try:
        held: dict[str, Any] = json.loads(text)
        checkpoint = held.pop("checkpoint")
        count = held.pop("count")
        return int(count), Sight(
            checkpoint_segment=checkpoint["segment"], checkpoint_offset=checkpoint["offset"], **held
        )
    except (ValueError, TypeError, KeyError):
        # Whole, but not of this form: a newer version wrote it. Then the journal is read in full.
        return None
