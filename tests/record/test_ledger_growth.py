"""A search of the ledger must not grow with it: what a person does on the Ledger page, counted in files looked at."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path
from typing import Any

import pytest

from data.home import ledger_path
from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.ledger_entries import FILE
from data.ledger_entry import Entry, Query
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from screens.ledger.reader import BATCH, START, Reader
from tests.looks import Looks
from tests.searching import searched
from tests.send.cases import put

NEWEST = "2026-W48"
WEEKS = [f"{year}-W{week:02d}" for year in (2024, 2025) for week in range(1, 20)]
OLDEST = Query(case=f"{WEEKS[0]}-0")


@pytest.fixture(scope="module")
def rehearsed() -> MemoryDisk:
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(6, 10, 1), lambda line: None)
    catch_up(Ledger(disk), door.journal)
    return disk


@pytest.fixture
def home(tmp_path: Path, rehearsed: MemoryDisk) -> Path:
    """A real week, and weeks before it with the same cycles under cases of their own."""
    put(rehearsed.files, tmp_path)
    ledger = Ledger(RealDisk(tmp_path))
    newest = (tmp_path / ledger_path(NEWEST)).read_bytes()
    documents = ledger.week(NEWEST)
    for week in WEEKS:
        dated = [{**d, "case": {**d["case"], "reference": f"{week}-{n}"}} for n, d in enumerate(documents)]
        ledger.put(week, dated, 1)
        (tmp_path / "journal" / f"{week}.jsonl").write_bytes(b"not read, for its ledger is there")
    (tmp_path / ledger_path(NEWEST)).write_bytes(newest)
    return tmp_path


def reader(home: Path) -> Reader:
    journal = Journal(RealDisk(home))
    journal.open()
    return Reader(RealDisk(home), journal)


def found(reader: Reader, query: Query) -> list[Entry]:
    """All that the page shows when its last button is tapped until there is none."""
    batch = reader.find(query)
    entries = [*batch.entries]
    while batch.go_on is not None:
        batch = reader.find(query, batch.go_on)
        entries += batch.entries
    return entries


def cases(home: Path, **asked: str) -> list[tuple[str, str]]:
    """The slow way: by TinyDB over every week."""
    ledger = Ledger(RealDisk(home))
    weeks = {week: searched(ledger, **asked, weeks=[week]) for week in ledger.weeks()[::-1]}
    return [(week, document["case"]["reference"]) for week, documents in weeks.items() for document in documents[::-1]]


def test_a_case_is_found_by_looking_at_no_other_week(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks, page = Looks(monkeypatch), reader(home)
    first = found(page, OLDEST)
    assert [(one.week, one.case) for one in first] == [(WEEKS[0], f"{WEEKS[0]}-0")]
    assert {ledger_path(week) for week in WEEKS} <= {*looks.at}, "the first search looks through them all"
    found(page, Query(case="no such case"))
    del looks.at[:]
    assert found(page, OLDEST) == first
    assert found(page, Query(case="no such case")) == []
    assert looks.at == []
    again = reader(home)
    del looks.at[:]
    assert found(again, OLDEST) == first
    assert not {ledger_path(week) for week in WEEKS} & {*looks.at}


def test_every_way_of_asking_gives_what_reading_every_week_gives(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Looks(monkeypatch)
    page, one = reader(home), Ledger(RealDisk(home)).week(NEWEST)[0]
    asked = [
        {"tag": one["scope"]["tag"]}, {"case": one["case"]["reference"]}, {"bath": "LOT-0001"},
        {"person": one["events"][0]["by"], "tag": one["scope"]["tag"]}, {"tag": "none"}, {},
    ]  # fmt: skip
    for keys in (*asked, *asked):
        assert [(entry.week, entry.case) for entry in found(page, Query(**keys))] == cases(home, **keys)


def test_weeks_that_come_go_and_change_are_noticed(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Looks(monkeypatch)
    page, ledger = reader(home), Ledger(RealDisk(home))
    found(page, OLDEST)
    middle = WEEKS[7]
    documents = ledger.week(middle)
    (home / ledger_path(middle)).unlink()
    (home / "journal" / f"{middle}.jsonl").unlink()
    assert found(page, Query(case=f"{middle}-0")) == []
    ledger.put(middle, [{**documents[0], "case": {**documents[0]["case"], "reference": "another"}}], 2)
    assert found(page, Query(case=f"{middle}-0")) == []
    assert [one.week for one in found(page, Query(case="another"))] == [middle]
    ledger.put("2025-W30", [{**documents[1], "case": {**documents[1]["case"], "reference": "one more"}}], 2)
    assert [one.week for one in found(page, Query(case="one more"))] == ["2025-W30"]


def test_a_week_damaged_in_place_is_named_where_it_may_hold_what_is_asked(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Looks(monkeypatch)
    page = reader(home)
    found(page, OLDEST)
    path = home / ledger_path(WEEKS[0])
    path.write_bytes(path.read_bytes()[:-40])
    assert [one.week for one in page.find(OLDEST).unread] == [WEEKS[0]]
    other = page.find(Query(case=f"{WEEKS[1]}-0"))
    assert [one.week for one in other.entries] == [WEEKS[1]] and other.unread == ()


def test_weeks_begun_but_not_looked_through_are_gone_on_with(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    looks, stopping = Looks(monkeypatch), threading.Event()
    journal = Journal(RealDisk(home))
    journal.open()
    page = Reader(RealDisk(home), journal, stopping)
    watched = Ledger.at_a_glance
    read: list[str] = []

    def at_a_glance(ledger: Ledger, week: str) -> list[dict[str, Any]]:
        read.append(week)
        if len(read) == 5:
            stopping.set()
        return watched(ledger, week)

    monkeypatch.setattr(Ledger, "at_a_glance", at_a_glance)
    assert page.find(OLDEST).entries == ()
    stopping.clear()
    assert [one.week for one in found(page, OLDEST)] == [WEEKS[0]]
    assert sorted(read) == sorted([*WEEKS, NEWEST]) and looks.at, "no week is read twice"


def test_rows_that_are_lost_are_missed_and_made_again(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Looks(monkeypatch)
    first = found(reader(home), OLDEST)
    tag = Query(tag=first[0].tag)
    every = found(reader(home), tag)
    for pattern in ("k\x1fcase\x1f*", "m\x1f2024", "n\x1f*", f"{WEEKS[0]}", "k\x1ftag\x1f*\x1f2024"):
        with sqlite3.connect(home / FILE) as file:
            assert file.execute("DELETE FROM row WHERE key GLOB ?", (pattern,)).rowcount
        for _ in range(2):
            assert found(reader(home), OLDEST) == first and found(reader(home), tag) == every


def test_no_row_of_a_key_grows_with_the_weeks_that_name_it(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Looks(monkeypatch)
    tag = found(reader(home), OLDEST)[0].tag
    with sqlite3.connect(home / FILE) as file:
        rows = dict(file.execute("SELECT key, value FROM row WHERE key GLOB ?", (f"k\x1ftag\x1f{tag}*",)))
    assert set(rows) == {f"k\x1ftag\x1f{tag}{year}" for year in ("", "\x1f2024", "\x1f2025", "\x1f2026")}
    assert all(len(value) < 54 * len('"2024-W01",') for value in rows.values())
    assert len({one.week for one in found(reader(home), Query(tag=tag))}) == len(WEEKS) + 1


def test_more_of_a_list_goes_on_where_it_was_when_a_cycle_has_ended_meanwhile(home: Path) -> None:
    page, ledger = reader(home), Ledger(RealDisk(home))
    tag = ledger.week(NEWEST)[0]["scope"]["tag"]
    batch = page.find(Query(tag=tag), START)
    assert len(batch.entries) == BATCH and batch.go_on is not None
    before = cases(home, tag=tag)
    later = ledger.week(NEWEST)[:1]
    ledger.put("2026-W49", [{**later[0], "week": "2026-W49"}], 10**6)
    more = page.find(Query(tag=tag), batch.go_on)
    shown = [(one.week, one.case) for one in (*batch.entries, *more.entries)]
    assert shown == before[: len(shown)]
