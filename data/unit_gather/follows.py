"""Whether two exports of one week are of one record: the shorter must end on a line of the longer.

For that, eight bytes of every line's hash are kept: enough that no two lines meet by chance, and too many to be made
to meet by trying, short enough to be kept for every week.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from data.exporters.chain_files import segment_files
from data.exporters.manifest import Manifest

MARK_LENGTH = 8


class Told(NamedTuple):
    """How an export tells its week: complete or not, from which line to which, the last one's hash."""

    closed: bool
    through: int
    head: str
    first_seq: int


def told(manifest: Manifest) -> Told:
    """Promise how an export tells its week."""
    return Told(manifest.closed, manifest.through, manifest.head, manifest.first_seq)


def line_marks(files: Mapping[str, bytes]) -> bytes:
    """Promise the beginnings of all line hashes of a chain that was checked, in order."""
    names = segment_files(files)
    # A line ends with its hash, a quote and a brace (data.line).
    found = (line[-66 : -66 + 2 * MARK_LENGTH] for name in names for line in files[name].split(b"\n") if line)
    return bytes.fromhex(b"".join(found).decode("ascii"))


def fits(other: Told, shown: Told, marks: bytes) -> bool:
    """Promise whether another export of the week agrees with the one shown, whose `line_marks` these are."""
    if other.closed and shown.closed:
        return other.head == shown.head
    if not shown.first_seq <= other.through <= shown.through:
        return False
    start = (other.through - shown.first_seq) * MARK_LENGTH
    return marks[start : start + MARK_LENGTH] == bytes.fromhex(other.head[: 2 * MARK_LENGTH])
