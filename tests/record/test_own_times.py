"""The unit's own hand times out of its ledger: only work without waiting counts, and nothing is kept twice."""

from __future__ import annotations

import pytest

from data.durations import GAP_S_MAX, durations_of, own_times, shipped_durations, with_running
from data.ledger import catch_up
from protocols.durations import KEPT, Seen
from tests.record.recorded_bench import RecordedBench, document

START = "2026-11-25T08:00:00+01:00"


def test_steps_without_anything_between_are_seen_whole() -> None:
    bench = RecordedBench(START)
    bench.tap_s = 40
    bench.whole_cycle("B2")
    own = own_times([document(bench, "B2")])
    assert own["bronchoscope", "leak-test"] == [Seen(40.0, True)]
    # A count of three is one visit.
    assert own["bronchoscope", "flush-suction-channel"] == [Seen(120.0, True)]
    # The soak itself is no handwork, and neither is what came before its lift.
    assert all(seen.length_s < 300 for times in own.values() for seen in times)


def test_a_visit_broken_off_by_another_tap_counts_as_longer_than_seen() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "flush-suction-channel")
    bench.wait(30)
    bench.must("count", "B2", **bench.given("B2"))
    bench.wait(10)
    bench.receive("G4")
    bench.wait(500)
    bench.whole_cycle("B2")
    own = own_times([document(bench, "B2")])
    assert own["bronchoscope", "flush-suction-channel"] == [Seen(30.0, False)]


def test_a_step_begun_only_after_another_scope_was_served_says_nothing() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "inspect")
    bench.wait(10)
    bench.receive("G4")
    bench.wait(400)
    bench.whole_cycle("B2")
    assert ("bronchoscope", "inspect") not in own_times([document(bench, "B2")])


def test_another_person_or_a_break_says_nothing() -> None:
    for by, gap_s in (("tim", 30), ("ann", GAP_S_MAX + 1)):
        bench = RecordedBench(START)
        bench.take_to("B2", "take-apart")
        bench.wait(gap_s)
        bench.must("look", "B2", by=by, outcome="apart")
        bench.whole_cycle("B2")
        assert ("bronchoscope", "take-apart") not in own_times([document(bench, "B2")])


def test_a_tap_taken_back_says_nothing() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "take-apart")
    bench.wait(5)
    bench.must("look", "B2", outcome="apart")
    bench.wait(3)
    bench.must("undo", "B2")
    bench.wait(5)
    bench.whole_cycle("B2")
    assert ("bronchoscope", "take-apart") not in own_times([document(bench, "B2")])


def test_they_come_from_the_ledger_and_are_bounded() -> None:
    bench = RecordedBench(START)
    bench.tap_s = 45
    for _ in range(3):
        bench.whole_cycle("B2")
    catch_up(bench.ledger, bench.journal)
    before = {path: bytes(content) for path, content in bench.disk.files.items()}
    durations = durations_of(bench.ledger)
    assert list(durations.own["bronchoscope", "leak-test"]) == [Seen(45.0, True)] * 3
    assert {path: bytes(content) for path, content in bench.disk.files.items()} == before
    many = own_times([document(bench, "B2")] * 100)
    assert max(len(seen) for seen in many.values()) == KEPT


def test_an_empty_ledger_gives_the_shipped_guesses() -> None:
    assert durations_of(RecordedBench(START).ledger) == shipped_durations()


def test_the_step_in_hand_is_censored_not_dropped() -> None:
    bench = RecordedBench(START)
    bench.take_to("B2", "leak-test")
    bench.wait(200)
    running = with_running(shipped_durations(), bench.unit, bench.shelf, bench.now)
    assert list(running.own["bronchoscope", "leak-test"]) == [Seen(pytest.approx(200), False)]
    bench.soaking("B2")
    assert with_running(shipped_durations(), bench.unit, bench.shelf, bench.now).own == {}
