"""Weeks of a simulated bench are sent and purged, on the same bad disk; what went lies whole where it was sent to."""

from __future__ import annotations

from contextlib import contextmanager
from unittest.mock import patch

from data.exporters.chain_files import CHAIN
from data.purging import PurgeRefused, purge_before
from data.segments import segment_path, segment_weeks
from data.send import deliver, keep, prepare, waiting
from data.signing import KEY_FILE, Signer, home_signer, keep_secret
from data.stubs import read_stub
from protocols.errors import DiskError, RecordDamaged
from protocols.event import Event
from protocols.refusals import Refusal
from tests.faults import PowerCut
from tests.places import MemoryPlace
from tests.world.truth import Broken
from tests.world.world import DEVICE, World

SECRET = bytes(range(9, 41))


class Weeks:
    """What a world sends, and where to. `purged` are the weeks that went, `refused` the rules that kept others."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.place = MemoryPlace()
        self.purged: list[str] = []
        self.refused: list[str] = []

    def send_and_purge(self, by: str) -> None:
        """One try to send every closed week and to purge all of them; each may be cut off anywhere."""
        world = self.world
        world.step("send and purge")
        kept, unit = world.kept(), world.door.unit
        try:
            with _without_print():
                signer = self._signer()
                for week in waiting(world.disk, world.door.journal, self.place.label):
                    if week != segment_weeks(world.disk)[-1]:
                        sent = deliver(prepare(world.disk, world.door.journal, week, signer), self.place)
                        keep(world.disk, sent, self.place.label, "2026-12-01T08:00:00.000Z")
            last = segment_weeks(world.disk)[-1]
            for week, answer in purge_before(world.door, last, self.place, signer, by):
                self._take(week, answer, kept)
                unit = world.door.unit
        except DiskError:
            world.failed(unit)
        except PowerCut:
            world.lost_power()

    def _signer(self) -> Signer:
        disk = self.world.disk
        return home_signer(disk, True) if disk.exists(KEY_FILE) else keep_secret(disk, SECRET)

    def _take(self, week: str, answer: object, kept: dict[str, bytes]) -> None:
        world = self.world
        if isinstance(answer, Event):
            found = world.follow()
            if not found or found[-1] != answer:
                raise Broken(f"seed {world.seed}: {answer.id} was acknowledged, the record has {found[-1:]}")
            self.purged.append(week)
            self._require_elsewhere(week, kept)
        elif isinstance(answer, Refusal):
            self.refused.append(answer.key)
            world.require_unchanged(world.door.unit, f"a refused purge ({answer.key})")
        elif isinstance(answer, PurgeRefused):
            self.refused.append("not sent")
        elif isinstance(answer, RecordDamaged):
            raise Broken(f"seed {world.seed}: {week} can't be purged: {answer}")
        elif isinstance(answer, DiskError):
            raise answer

    def _require_elsewhere(self, week: str, kept: dict[str, bytes]) -> None:
        """What went lies, byte for byte, in the export at its place, and the stub names it."""
        world = self.world
        lines = self.place.files.get(f"{DEVICE}/{week}/{CHAIN}/{week}.jsonl")
        if lines is None or lines != kept[segment_path(week)]:
            raise Broken(f"seed {world.seed}: {week} was purged, and its lines are not where they were sent")
        if read_stub(world.home(), week).stub.lines != lines.count(b"\n"):
            raise Broken(f"seed {world.seed}: the stub of {week} does not count its lines")


@contextmanager
def _without_print():
    # A print takes longer than all the rest, and shows nothing here.
    with patch("data.exporters.week_forms.can_print", lambda: False):
        yield
