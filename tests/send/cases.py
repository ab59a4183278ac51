"""Records of several handhelds and their exports, for the tests of sending and gathering."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from data.door import Door
from data.exporters.manifest import MANIFEST, SIGNATURE, read_manifest, with_manifest
from data.exporters.week_forms import week_forms
from data.send import Prepared, prepare
from data.signing import Signer, signer
from protocols.event import Decision
from tests.record.recorded_bench import RecordedBench

WEDNESDAY = "2026-11-25T08:00:00+01:00"
WEEK, NEXT_WEEK, THIRD_WEEK = "2026-W48", "2026-W49", "2026-W50"
DAY_S = 86_400


class Handheld(RecordedBench):
    """A bench with a record of its own, under the name of its device; it signs with a key made of that name."""

    def __init__(self, device: str = "hh1", start: str = WEDNESDAY) -> None:
        self.device = device
        super().__init__(start)

    def _append(self, decision: Decision, by: str) -> None:  # type: ignore[override]
        assert decision.kind == "boot"
        self.door = Door(self.journal, self.texts, self.clock, self.shelf, self.device)
        self.unit = self.door.unit

    @property
    def signer(self) -> Signer:
        return signer(sha256(self.device.encode()).digest())

    def export(self, week: str = WEEK) -> dict[str, bytes]:
        return week_forms(self.disk, self.journal, week, self.signer)

    def prepared(self, week: str = WEEK) -> Prepared:
        return prepare(self.disk, self.journal, week, self.signer)

    def next_week(self) -> None:
        """Let a week pass, and the record go on in it."""
        self.wait(7 * DAY_S)
        self.must("add-person", f"p{self.unit.seq}", name="Eve", role="technician")


def busy_week(device: str = "hh1", start: str = WEDNESDAY) -> Handheld:
    """A cycle that completes, one that fails its leak test, one that is voided, one still under way."""
    bench = Handheld(device, start)
    bench.whole_cycle("B2")
    bench.take_to("G4", "leak-test")
    bench.wait(20)
    bench.must("look", "G4", outcome="leak", **bench.given("G4"))
    bench.wait(5)
    bench.must("out-of-service", "G4", reason="leak", owner="workshop")
    bench.take_to("B3", "inspect")
    bench.wait(30)
    bench.must("void", "B3", reason="=1+1, wrong tag")
    bench.receive("C5")
    return bench


@lru_cache(maxsize=1)
def three_weeks() -> Handheld:
    """A cycle that begins on Sunday night and ends on Monday; a week later one more, in a bath poured on the first
    Wednesday. The last week is still open. Shared by tests: don't change it.
    """
    bench = busy_week()
    bench.must("void", "C5", reason="done elsewhere")
    bench.wait(4 * DAY_S + 14 * 3600 - (bench.clock.true_ms // 1000 - START_S))
    bench.take_to("B2", "disinfectant-soak")
    bench.wait(3 * 3600)
    bench.whole_cycle("B2")
    bench.next_week()
    bench.whole_cycle("B3")
    return bench


@lru_cache(maxsize=3)
def prepared(week: str = WEEK) -> Prepared:
    """The export of a week of `three_weeks`, made once. Don't change it."""
    return three_weeks().prepared(week)


def exported(week: str = WEEK) -> dict[str, bytes]:
    return dict(prepared(week).files)


def small(through: int, closed: bool = False) -> Prepared:
    """An export of two files that goes so far, for sendings that are cut off hundreds of times."""
    files = {f"chain/{WEEK}.jsonl": b"line\n" * through, "cycles.csv": b"x" * 50}
    said = {
        "device": "hh7", "unit": "Bench", "week": WEEK, "closed": closed, "at": WEDNESDAY, "through": through,
        "head": f"{through:064x}", "first_seq": 1, "before": "0" * 64, "counts": {}, "left_out": {},
    }  # fmt: skip
    made = with_manifest(files, said, signer(bytes(32)))
    return Prepared(read_manifest(made[MANIFEST], made[SIGNATURE]), made)


START_S = 1_795_590_000  # 2026-11-25T08:00:00+01:00


def copied(bench: Handheld) -> dict[str, bytes]:
    """Promise the files of a handheld's home, for a disk of its own."""
    return {path: bytes(content) for path, content in bench.disk.files.items()}


def put(files: Mapping[str, bytes | bytearray], folder: Path) -> Path:
    """Write files into a folder as they are; gives the folder."""
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder


def there(folder: Path) -> dict[str, bytes]:
    """All files below a folder, those whose names begin with a dot included."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def digest(folder: Path) -> str:
    """One hash over all names and contents below a folder."""
    state = sha256()
    for name, content in there(folder).items():
        state.update(f"{name}\0{len(content)}\0".encode() + content)
    return state.hexdigest()
