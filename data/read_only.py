"""A record that can't go on, for reading: everything readable as it stood, the rest named, nothing written.

What can be read is folded up to the last readable line; the clock stands still at that line, because no time after it
is proven. A command is refused and changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping

from data.disk import Disk
from data.door import Found
from data.home import Texts
from data.journal import Journal
from data.segments import CHECKPOINT, read_placed, segment_path, segment_weeks
from data.unit_state import texts_in_use
from protocols.clock import Reading, Stamp, parse_wall
from protocols.errors import UNREADABLE, BasinbellError, Defect, DiskError
from protocols.event import SCHEMA, Command, from_envelope
from protocols.fold import evolve
from protocols.plain import from_plain
from protocols.refusals import Refusal, refuse
from protocols.shelf import Shelf
from protocols.unit import Unit


class ReadOnlyDisk:
    """The disk promise without its writing half: every change raises DiskError."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        self.read, self.read_from = disk.read, disk.read_from
        self.exists, self.size, self.names = disk.exists, disk.size, disk.names

    def append(self, path: str, data: bytes) -> None:
        raise _nothing_is_written(path)

    def replace(self, path: str, data: bytes) -> None:
        raise _nothing_is_written(path)

    def scribble(self, path: str, data: bytes, offset: int) -> None:
        raise _nothing_is_written(path)

    def truncate(self, path: str, size: int) -> None:
        raise _nothing_is_written(path)

    def remove(self, path: str) -> None:
        raise _nothing_is_written(path)

    def lock(self, name: str, who: str) -> str | None:
        raise _nothing_is_written(name)

    def unlock(self) -> None:
        """Promise nothing: it holds no lock."""

    def close(self) -> None:
        """Promise nothing: whoever opened the disk closes it."""


def _nothing_is_written(path: str) -> DiskError:
    return DiskError(f"{path} is not written: the record is damaged and only shown; see the page Damage")


class ReadOnlyDoor:
    """What pages read of a door. `missing` names what can't be read, in words with files and places."""

    def __init__(self, disk: Disk, shelf: Shelf) -> None:
        """Promise the unit as of the last readable line; an empty one where nothing can be read."""
        self.disk = ReadOnlyDisk(disk)
        self.journal = Journal(self.disk)
        self.texts = Texts(self.disk)
        self.shelf = shelf
        self.found = Found()
        self.device = ""
        self.unit = Unit()
        self.missing: list[str] = []
        self._at = Reading(0, 0, "")
        try:
            self._read()
        except BasinbellError as error:
            self.missing.append(str(error))

    def _read(self) -> None:
        """Fold the newest week that can be read at all; what lies before it is in its first line, the checkpoint."""
        for week in reversed(segment_weeks(self.disk)):
            number = self._fold(week)
            if number:
                break
        self._read_texts()

    def _fold(self, week: str) -> int:
        """Take a week up to its first line that does not fit; give how many lines were taken."""
        number = 0
        try:
            for placed in read_placed(self.disk, week, SCHEMA):
                self._take(placed.envelope)
                number += 1
        except BasinbellError as error:
            self.missing.append(f"line {number + 1} of {segment_path(week)} and what follows it: {error}")
        except UNREADABLE as error:
            # A line whose hashes fit and whose content is none of ours: said, and what came before it is shown.
            what = f"it holds what no version of this app wrote ({error!r})"
            self.missing.append(f"line {number + 1} of {segment_path(week)} and what follows it: {what}")
        return number

    def _read_texts(self) -> None:
        for sha in (sha for sha in texts_in_use(self.unit) if not self.shelf.holds(sha)):
            try:
                self.shelf.add([self.texts.get(sha)])
            except BasinbellError as error:
                self.missing.append(str(error))
                self._leave_out(sha)

    def look_for_more(self) -> list[str]:
        """Promise the name of everything that can't be read, after a pass over the whole record; may take minutes."""
        return [what for what in self.journal.readable().missing if what not in self.missing]

    def _take(self, line: Mapping[str, object]) -> None:
        if line["kind"] == CHECKPOINT:
            self.device = str(line["device"])
            unit = from_plain(Unit, line["data"])
        else:
            unit = evolve(self.unit, from_envelope(line))
        self.unit = unit
        self._at = Reading(int(str(line["elapsed"])), parse_wall(str(line["wall"])), str(line["boot"]))

    def _leave_out(self, sha: str) -> None:
        """Without its protocol a cycle can't be shown; it is named with its text above."""
        cycles = {tag: cycle for tag, cycle in self.unit.cycles.items() if cycle.text_sha256 != sha}
        self.missing += [f"the cycle of {tag}, whose protocol is gone" for tag in self.unit.cycles if tag not in cycles]
        protocols = {name: known for name, known in self.unit.protocols.items() if known != sha}
        self.unit = self.unit._replace(cycles=cycles, protocols=protocols)

    @property
    def as_of_ms(self) -> int:
        """Promise the wall time of the last readable line, 0 where there is none."""
        return self._at.wall_ms

    def now(self) -> Stamp:
        """Promise the moment of the last readable line: time stands still there."""
        if self._at.boot != self.unit.time.boot:
            return Stamp(self.unit.time.proven_base_ms, self.unit.time.longest_base_ms, self._at.wall_ms)
        return self.unit.time.stamp(self._at)

    def touch(self) -> None:
        """Promise nothing: no witness is written."""

    def give(self, command: Command) -> Refusal:
        """Promise that nothing changes, whatever the command."""
        if not isinstance(command, Command):
            raise Defect(f"{command!r} is no command")
        return refuse("read-only")
