"""What a look-back does must not grow with the record: listing the weeks, and the notes of the keys that there are."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from data.trace import trace
from data.trace_index import FILE
from data.trace_store import Store
from tests.looks import Looks
from tests.record.recorded_bench import RecordedBench
from tests.record.test_trace import START, agrees, lived, written


@pytest.fixture(scope="module")
def bench() -> RecordedBench:
    made = RecordedBench(START, checkpoint_every=60)
    lived(made)
    return made


@pytest.fixture
def home(bench: RecordedBench, tmp_path: Path) -> Path:
    return written(bench, tmp_path / "home")


def test_weeks_are_listed_only_when_their_folder_has_changed(
    home: Path, bench: RecordedBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed, lines, newest = Looks(monkeypatch, ways=("names",)).at, bench.lines(), max((home / "journal").iterdir())
    whole = newest.read_bytes()
    newest.write_bytes(whole[: whole[:-1].rfind(b"\n") + 1])
    trace(home, "scope", "B2")
    assert "journal" in listed
    del listed[:]
    agrees(trace(home, "scope", "C5"), lines[:-1])
    newest.write_bytes(whole)  # one line more
    agrees(trace(home, "scope", "C5"), lines)
    assert "journal" not in listed
    newest.rename(home / "away")
    agrees(trace(home, "scope", "C5"), [line for line in lines if line["wall"] < "2026-12-07"])
    assert "journal" in listed
    (home / "away").rename(newest)
    agrees(trace(home, "scope", "C5"), lines)


def test_a_week_that_begins_in_the_same_moment_is_not_overlooked(
    home: Path, bench: RecordedBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = max((home / "journal").iterdir())
    newest.rename(home / "away")
    still = (home / "journal").stat()
    real = Path.stat
    # A file system whose time has stood still since: the week that comes back leaves no trace in it.
    monkeypatch.setattr(Path, "stat", lambda path, **k: still if path == home / "journal" else real(path, **k))
    Looks(monkeypatch, 1)
    trace(home, "scope", "C5")
    (home / "away").rename(newest)
    agrees(trace(home, "scope", "C5"), bench.lines())


def noted(path: Path, width: int) -> int:
    """Promise the longest row of notes of one level."""
    with sqlite3.connect(path) as file:
        pattern = f"n\x1f{width}\x1f*"
        rows = [key for (key,) in file.execute("SELECT key FROM row WHERE key GLOB ?", (pattern,))]
    store = Store(path)
    longest = max(len((store.get(key) or {})["marks"]) for key in rows)
    store.close()
    return longest


def test_notes_of_keys_stay_short_however_many_keys_there_are(tmp_path: Path) -> None:
    path = tmp_path / FILE
    store = Store(path)
    for start in range(0, 24_000, 2_000):
        store.begin()
        for number in range(start, start + 2_000):
            store.note(f"k{number}")
        store.commit()
    looked: list[str] = []
    store.sound = lambda: bool(looked.append("at every row"))  # type: ignore[method-assign, func-returns-value]
    assert all(store.lacks(f"none of them {number}") for number in range(300)) and not looked
    assert not any(store.lacks(f"k{number}") for number in range(0, 24_000, 1_999)) and len(looked) == 13
    store.close()
    assert 64 <= noted(path, 64) < 128 and 64 <= noted(path, 256) < 128 and noted(path, 1024) < 64
    with sqlite3.connect(path) as file:
        file.execute("DELETE FROM row WHERE key GLOB ?", ("n\x1f256\x1f*",))
    store = Store(path)
    assert not store.lacks("none of them"), "notes that are lost say nothing"
    store.close()
