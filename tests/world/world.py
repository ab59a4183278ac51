"""One simulated bench: fake clocks, a disk with faults, seeded chance, and the real engine, record and prompts.

After every step the promises are checked: nothing that was acknowledged is lost, a refusal or a failed write changes
nothing, the record gives the same state again from its first line and from its last checkpoint, and what `truth` says.
The same seed gives the same steps and the same bytes.
"""

from __future__ import annotations

import json
from random import Random

from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.rehearse.scene import START
from data.segments import CHECKPOINT, segment_path, segment_weeks
from protocols.clock import FakeClock, parse_wall
from protocols.errors import CommandFault, DiskError
from protocols.event import Command, Event, from_envelope
from protocols.fold import evolve, without_archived
from protocols.plain import to_plain
from protocols.prompts import Prompt, calls_between, due
from protocols.refusals import Refusal
from protocols.shelf import Shelf
from protocols.unit import Unit
from tests.faults import FaultyDisk, PowerCut
from tests.world.truth import Broken, Truth

DEVICE = "world"


class World:
    """A bench of one seed. `give`, `wait` and what befalls the handheld are its steps; each checks all promises."""

    def __init__(self, seed: int, shelf: Shelf, checkpoint_every: int = 25, reopen_every: int = 1) -> None:
        """`reopen_every`: one step in so many is followed by a power cut in a copy, which is opened and compared."""
        self.seed = seed
        self.chance = Random(seed)
        self.shelf = shelf
        self.steps = 0
        self.log: list[str] = []
        self._every, self._reopen_every = checkpoint_every, reopen_every
        self.clock = FakeClock(parse_wall(START), boot="world-1", drift_ppm=self.chance.choice((0, -150, 200)))
        self.truth = Truth(shelf)
        self._begin_boot()
        self.disk = FaultyDisk()
        self._kept: dict[str, bytearray] = {}
        self._told = Unit()
        # How many events may be in the record that nobody was told of: a write that failed for all its bytes.
        self._unsure = 0
        self.door = self._open()
        self.follow()

    def give(self, command: Command) -> Event | Refusal | None:
        """Promise the door's answer, None when nobody was answered: a fault of the disk or of the command itself."""
        self.step(f"{command.do} {command.subject} {dict(command.values)} {command.by}")
        unit = self.door.unit
        try:
            answer = self.door.give(command)
        except CommandFault:
            self.require_unchanged(unit, "a command that can't be read")
            return None
        except DiskError:
            self.failed(unit)
            return None
        except PowerCut:
            self._unsure = 1
            self.power_cut(self.chance.uniform(1, 900))
            return None
        if isinstance(answer, Refusal):
            self.require_unchanged(unit, f"a refusal ({answer.key})")
        else:
            found = self.follow()
            if not found or found[-1] != answer:
                raise self._broken(f"{answer.id} was acknowledged, the record has {found[-1:]}")
        self._check()
        return answer

    def wait(self, seconds: float) -> None:
        """Let time pass with the handheld on, awake or asleep; every prompt that falls into it is checked."""
        self.step(f"wait {seconds:.3f}")
        before, power_ms = self.door.now(), self.truth.power_ms
        elapsed_ms = self.clock.read().elapsed_ms
        self.clock.advance(seconds)
        self.truth.power_ms += self.clock.read().elapsed_ms - elapsed_ms
        for call in calls_between(self.door.unit, before, self.door.now()):
            self._not_early(call.prompt, power_ms + call.after_s * 1000)
        self._check()

    def touch(self) -> None:
        """The clocks are noted, as an app does now and then."""
        try:
            self.door.touch()
        except PowerCut:
            self.power_cut(self.chance.uniform(1, 900))

    def step_wall(self, seconds: float) -> None:
        """Somebody sets the wall clock."""
        self.step(f"wall {seconds:.0f}")
        self.clock.step(seconds)
        self._check()

    def app_ends(self) -> None:
        """The app is killed and started again within one boot."""
        self.step("app ends")
        self.disk.reopen()
        self._reopen()

    def power_cut(self, down_s: float) -> None:
        """The power goes, unsynced writes are lost or torn, and after a while the handheld starts again."""
        self.step(f"power cut {down_s:.0f}")
        self.disk = FaultyDisk(self.disk.crash(self.chance.randrange(2**30)))
        self.clock.reboot(down_s)
        self._begin_boot()
        self._reopen()

    def _begin_boot(self) -> None:
        reading = self.clock.read()
        self.truth.boots[reading.boot] = self.truth.power_ms - reading.elapsed_ms

    def _open(self) -> Door:
        return Door(Journal(self.disk, checkpoint_every=self._every), Texts(self.disk), self.clock, self.shelf, DEVICE)

    def _reopen(self) -> None:
        while True:
            try:
                self.door = self._open()
                break
            except DiskError:
                self.disk.mend()
                self.disk.reopen()
            except PowerCut:
                self.disk = FaultyDisk(self.disk.crash(self.chance.randrange(2**30)))
                self.clock.reboot(1)
                self._begin_boot()
        found = [event for event in self.follow() if event.kind != "boot"]
        if len(found) > self._unsure:
            raise self._broken(f"{found[0].id} is in the record, and nobody gave it")
        self._unsure = 0
        self._check()

    def failed(self, unit: Unit) -> None:
        """After a failed write: nothing has changed in memory, and on disk only where the error said so."""
        if self.door.unit is not unit:
            raise self._broken("a failed write changed the unit")
        if self.disk.unsure:
            self._unsure = 1
            self.disk.mend()
            self.app_ends()
        elif self._files() != self._kept:
            raise self._broken("a failed write that was taken back changed the journal")
        self._check()

    def follow(self) -> list[Event]:
        """Read what the journal has got since, fold it in line by line, and hold the door's unit against that."""
        found: list[Event] = []
        files = self._files()
        gone = [path for path in self._kept if path not in files]
        for path, kept in self._kept.items():
            if path in files and not files[path].startswith(kept):
                raise self._broken(f"{path} has lost or changed lines that were acknowledged")
        for path, data in files.items():
            kept = self._kept.setdefault(path, bytearray())
            added = data[len(kept) :]
            for line in added.splitlines():
                found += self._fold(self._read(line))
            kept += added
        for path in gone:
            purged = self._told.purged
            if purged is None or path > segment_path(purged.week):
                raise self._broken(f"{path} is gone, and nobody purged it")
            del self._kept[path]
        if self._told != self.door.unit:
            raise self._broken("the record, folded from its first line, gives another unit than the door has")
        return found

    def _read(self, line: bytes | bytearray) -> dict[str, object]:
        try:
            read: dict[str, object] = json.loads(line)
        except ValueError as fault:
            raise self._broken(f"the record holds a line that can't be read: {fault}") from fault
        return read

    def _fold(self, line: dict[str, object]) -> list[Event]:
        event = from_envelope(line)
        if event.kind == CHECKPOINT:
            self._told = without_archived(self._told)
            if to_plain(self._told) != event.data:
                raise self._broken(f"checkpoint {event.seq} is not the state that the lines before it give")
            return []
        self._told = evolve(self._told, event)
        try:
            self.truth.observe(event)
        except Broken as broken:
            raise self._broken(str(broken)) from broken
        return [event]

    def _files(self) -> dict[str, bytearray]:
        files = self.disk.inner.files
        return {path: files[path] for path in map(segment_path, segment_weeks(self.disk.inner)) if files[path]}

    def _check(self) -> None:
        for prompt in due(self.door.unit, self.door.now()):
            self._not_early(prompt, self.truth.power_ms)
        if self.steps % self._reopen_every == 0:
            self._check_reopened()

    def _check_reopened(self) -> None:
        """Cut the power in a copy, open that, and find what was acknowledged and the state that it gives."""
        copy = self.disk.crash(self.chance.randrange(2**30))
        door = Door(Journal(copy, checkpoint_every=self._every), Texts(copy), self.clock, self.shelf, DEVICE)
        if (door.unit, door.journal.head) != (self.door.unit, self.door.journal.head):
            raise self._broken("opened after a power cut, the record gives another unit or another last line")

    def _not_early(self, prompt: Prompt, power_ms: float) -> None:
        try:
            self.truth.require_not_early(prompt, power_ms)
        except Broken as broken:
            raise self._broken(str(broken)) from broken

    def require_unchanged(self, unit: Unit, what: str) -> None:
        if self.door.unit is not unit or self._told != unit or self._files() != self._kept:
            raise self._broken(f"{what} changed the unit or the record")

    def step(self, what: str) -> None:
        self.steps += 1
        self.log.append(what)

    def _broken(self, what: str) -> Broken:
        last = "\n  ".join(self.log[-12:])
        return Broken(f"seed {self.seed}, step {self.steps}: {what}\n  {last}")

    def kept(self) -> dict[str, bytes]:
        """Promise the journal as it has been told, by path."""
        return {path: bytes(data) for path, data in self._kept.items()}

    def lost_power(self) -> None:
        """The power went in the middle of something that nobody was answered."""
        self._unsure = 1
        self.power_cut(self.chance.uniform(1, 900))

    def home(self) -> MemoryDisk:
        """Promise what is on the disk, for an audit of all of it."""
        return self.disk.inner
