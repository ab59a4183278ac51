"""What came after a cycle's end, shown with it: found without reading the record through, however long ago it was."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.real_disk import RealDisk
from protocols.clock import parse_wall
from screens.ledger.reader import LATER_KINDS, Later, Reader
from tests.record.recorded_bench import RecordedBench
from tests.record.test_trace import DAY, START, written

WEEK = "2026-W48"


@pytest.fixture(scope="module")
def bench() -> RecordedBench:
    """Twelve weeks: B2 has one cycle, voided in the tenth, C5 comes in again in the third, G4 never again."""
    made = RecordedBench(START)
    for tag in ("B2", "C5", "G4"):
        made.whole_cycle(tag)
    made.must("release", "C5", by="tim")
    for week in range(11):
        made.wait(7 * DAY)
        made.pour(f"N{week}")
        if week == 1:
            made.receive("C5")
        if week == 8:
            made.must("void", "B2", reason="wrong case")
    catch_up(Ledger(made.disk), made.journal)
    return made


@pytest.fixture
def home(bench: RecordedBench, tmp_path: Path) -> Path:
    return written(bench, tmp_path / "home")


def reader(home: Path, stopping: threading.Event | None = None) -> Reader:
    journal = Journal(RealDisk(home))
    journal.open()
    return Reader(RealDisk(home), journal, stopping)


def first_cycle(bench: RecordedBench, tag: str) -> str:
    return next(d["cycle"] for d in Ledger(bench.disk).week(WEEK) if d["scope"]["tag"] == tag)


def told(bench: RecordedBench, cycle: str) -> list[Later]:
    """The slow way: every line of the record after the cycle's end."""
    lines = [line for line in bench.lines() if line["refs"].get("cycle") == cycle]
    after = lines[next(n for n, line in enumerate(lines) if line["data"].get("ends")) + 1 :]
    return [Later(n["kind"], n["by"], parse_wall(n["wall"])) for n in after if n["kind"] in LATER_KINDS]


@pytest.mark.parametrize(("tag", "count"), [("B2", 1), ("C5", 1), ("G4", 0)])
def test_what_came_later_is_what_a_scan_of_the_record_gives(
    home: Path, bench: RecordedBench, tag: str, count: int
) -> None:
    cycle = first_cycle(bench, tag)
    for _ in range(2):  # with the index made, and with it there
        whole = reader(home).whole(WEEK, cycle)
        assert whole is not None and whole.fault == ""
        assert list(whole.later) == told(bench, cycle) and len(whole.later) == count


def test_weeks_long_after_a_cycle_are_not_read_for_it(
    home: Path, bench: RecordedBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, cycle = reader(home), first_cycle(bench, "B2")
    page.whole(WEEK, cycle)
    seen: list[str] = []
    real = Journal.iter_segment

    def iter_segment(journal: Journal, week: str) -> Iterator[dict[str, Any]]:
        seen.append(week)
        return real(journal, week)

    monkeypatch.setattr(Journal, "iter_segment", iter_segment)
    whole = page.whole(WEEK, cycle)
    assert whole is not None and len(whole.later) == 1
    assert len(bench.journal.segments()) == 12 and len(seen) == 4
    page.whole(WEEK, first_cycle(bench, "C5"))
    assert len(seen) == 4 + 3, "C5 came in again in the third week"


def test_a_look_that_is_stopped_shows_the_cycle_and_says_so(home: Path, bench: RecordedBench) -> None:
    stopping = threading.Event()
    stopping.set()
    whole = reader(home, stopping).whole(WEEK, first_cycle(bench, "B2"))
    assert whole is not None and whole.later == () and "stopped" in whole.fault


def test_a_damaged_week_in_between_is_said_beside_the_cycle(home: Path, bench: RecordedBench) -> None:
    path = home / "journal" / f"{bench.journal.segments()[6]}.jsonl"
    page = reader(home)
    path.write_bytes(path.read_bytes().replace(b'"by":"ann"', b'"by":"ANN"', 1))
    whole = page.whole(WEEK, first_cycle(bench, "B2"))
    assert whole is not None and bench.journal.segments()[6] in whole.fault
