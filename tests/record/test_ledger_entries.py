"""The list of ended cycles, kept beside the ledger: the same answers as reading every week, whatever happens to it."""

from __future__ import annotations

import os
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from data.home import ledger_path
from data.ledger import Ledger, catch_up
from data.ledger_entries import FILE, open_entries
from data.ledger_entry import Entry, Query, entry
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from protocols.errors import RecordDamaged
from tests.searching import searched as expected

WEEKS = ("2026-W40", "2026-W41", "2026-W48")


@pytest.fixture(scope="module")
def documents() -> list[dict[str, Any]]:
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(6, 10, 1), lambda line: None)
    catch_up(Ledger(disk), door.journal)
    return Ledger(disk).week("2026-W48")


@pytest.fixture
def home(tmp_path: Path, documents: list[dict[str, Any]]) -> Path:
    ledger = Ledger(RealDisk(tmp_path))
    for number, week in enumerate(WEEKS):
        dated = [{**d, "case": {**d["case"], "reference": f"{d['case']['reference']}-{number}"}} for d in documents]
        ledger.put(week, dated, 100 + number)
    return tmp_path


def listed(home: Path, query: Query) -> dict[str, list[Entry]]:
    disk = RealDisk(home)
    ledger = Ledger(disk)
    with open_entries(disk, ledger, home) as kept:
        return {week: kept.week(week, query) for week in ledger.weeks()}


def searched(home: Path, query: Query) -> dict[str, list[Entry]]:
    """What reading every week by TinyDB's own queries gives."""
    ledger = Ledger(RealDisk(home))
    return {week: [entry(week, d) for d in expected(ledger, **asdict(query), weeks=[week])][::-1] for week in WEEKS}


def questions(documents: list[dict[str, Any]]) -> list[Query]:
    one = documents[0]
    bath = next(bath for d in documents for bath in d["baths"] if bath["lot"])
    return [
        Query(),
        Query(tag=one["scope"]["tag"]),
        Query(case=f"{one['case']['reference']}-1"),
        Query(bath=bath["lot"]),
        Query(bath=bath["label"]),
        Query(bath=bath["uid"]),
        Query(person=one["events"][0]["by"]),
        Query(tag=one["scope"]["tag"], bath=bath["lot"]),
        Query(tag="no such tag"),
    ]


def test_answers_are_those_of_reading_every_week_the_first_time_and_the_second(home: Path, documents: Any) -> None:
    asked = questions(documents)
    for query in (*asked, *asked):
        assert listed(home, query) == searched(home, query)
    assert sum(map(len, listed(home, asked[2]).values())) == 1
    assert (home / FILE).is_file()


def test_a_week_that_was_read_once_is_not_read_again(home: Path) -> None:
    listed(home, Query())
    disk = RealDisk(home)

    class Unreadable(Ledger):
        def at_a_glance(self, week: str) -> list[dict[str, Any]]:
            raise RecordDamaged(f"{week} was read")

    with open_entries(disk, Unreadable(disk), home) as kept:
        assert sum(len(kept.week(week, Query())) for week in WEEKS) == 3 * len(Ledger(disk).week(WEEKS[0]))


def test_only_weeks_that_name_what_is_asked_are_looked_into(home: Path, documents: Any) -> None:
    listed(home, Query())
    for query in questions(documents):
        with open_entries(RealDisk(home), Ledger(RealDisk(home)), home) as kept:
            holding = [week for week, found in searched(home, query).items() if found]
            either = sum(map(bool, asdict(query).values())) > 1  # a week may name both keys, each in another cycle
            assert kept.weeks(query) == (list(WEEKS) if either else holding)[::-1]


def test_a_week_that_went_on_is_read_again(home: Path, documents: list[dict[str, Any]]) -> None:
    before = listed(home, Query())
    ledger = Ledger(RealDisk(home))
    ledger.replace(WEEKS[2], documents[:3], 200)
    after = listed(home, Query())
    assert len(after[WEEKS[2]]) == 3
    assert {week: after[week] for week in WEEKS[:2]} == {week: before[week] for week in WEEKS[:2]}


@pytest.mark.parametrize("harm", ["empty", "rubbish", "cut", "altered"])
def test_a_damaged_list_is_made_again(home: Path, documents: list[dict[str, Any]], harm: str) -> None:
    before = listed(home, Query())
    path = home / FILE
    content = path.read_bytes()
    match harm:
        case "empty":
            path.write_bytes(b"")
        case "rubbish":
            path.write_bytes(b"no database at all" * 100)
        case "cut":
            path.write_bytes(content[: len(content) // 2])
        case "altered":
            path.write_bytes(content.replace(b'"outcome":"', b'"outcome":"?')[: len(content)])
    assert listed(home, Query()) == before
    for query in questions(documents):
        assert listed(home, query) == searched(home, query)


def test_a_damaged_week_is_named_and_the_others_are_listed(home: Path) -> None:
    path = home / ledger_path(WEEKS[1])
    path.write_bytes(path.read_bytes()[:-40])
    disk = RealDisk(home)
    with open_entries(disk, Ledger(disk), home) as kept:
        assert kept.week(WEEKS[0], Query())
        with pytest.raises(RecordDamaged, match=WEEKS[1]):
            kept.week(WEEKS[1], Query())
        assert kept.week(WEEKS[2], Query())


def test_a_home_that_cannot_be_written_to_is_listed_all_the_same(home: Path, tmp_path: Path) -> None:
    disk = RealDisk(home)
    nowhere = tmp_path / "gone" / "elsewhere"
    with open_entries(disk, Ledger(disk), nowhere) as kept:
        assert len(kept.week(WEEKS[0], Query())) == len(Ledger(disk).week(WEEKS[0]))
    assert not os.path.lexists(nowhere)
