"""A cycle between two handhelds under loss, repetition and reordering: never twice, never lost, never credited.

More runs by hand: python3 -m tests.soak.handovers 10000
"""

from __future__ import annotations

import pytest

from data.journal import Journal
from data.ledger import Ledger, catch_up
from tests.searching import searched
from tests.world.pair import TAG, Pair
from tests.world.shifts import verify

RUNS, STEPS = 30, 40


@pytest.fixture(scope="module")
def runs() -> list[Pair]:
    found = []
    for seed in range(RUNS):
        pair = Pair(seed)
        for _ in range(STEPS):
            pair.step()
        pair.settle()
        found.append(pair)
    return found


def test_a_cycle_is_never_twice_and_never_lost(runs: list[Pair]) -> None:
    assert all(pair.ended for pair in runs)


def test_the_runs_meet_what_they_are_meant_to_meet(runs: list[Pair]) -> None:
    assert sum(pair.moves for pair in runs) >= 20 and max(pair.moves for pair in runs) >= 3
    assert sum(pair.altered for pair in runs) >= 10 and sum(pair.refused for pair in runs) >= 10


def test_it_completes_in_one_ledger_with_its_whole_history_and_where_it_came_from(runs: list[Pair]) -> None:
    for pair in runs[:10]:
        documents = []
        for side in pair.sides:
            home = side.world.home()
            journal = Journal(home)
            journal.open()
            catch_up(Ledger(home), journal)
            documents += [(side.world.name, one) for one in searched(Ledger(home), tag=TAG)]
        completed = [(name, one) for name, one in documents if one["outcome"]["outcome"] == "completed"]
        assert len(completed) == 1
        name, document = completed[0]
        handed = {one["went_to"]["offer"]: one for _, one in documents if one["outcome"]["outcome"] == "handed over"}
        assert document["received"]["by"] == "ann" and document["disinfection"]["method"] and document["drying"]["end"]
        while "came_from" in document:
            before = handed.pop(document["came_from"]["offer"])
            assert before["cycle"] == document["came_from"]["cycle_there"]
            assert before["went_to"]["cycle_there"] == document["cycle"]
            document = before
        assert document["cycle"].startswith("wa-") and not handed, name


def test_both_records_verify(runs: list[Pair]) -> None:
    for pair in runs[:6]:
        for side in pair.sides:
            verify(side.world)
