"""The handover of a shift: two people, and each running soak acknowledged one by one by who comes in."""

from __future__ import annotations

from driver import Bench

from protocols.shifts import unacknowledged


def two_soaks() -> Bench:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    bench.soaking("B2")
    bench.soaking("B3", "H5")
    bench.receive("G4")
    return bench


def test_each_running_soak_is_acknowledged_by_the_person_who_comes_in() -> None:
    bench = two_soaks()
    bench.checked_refusal("own-shift", "hand-shift", "ann")
    bench.checked_refusal("no-person", "hand-shift", "eve")
    bench.checked_refusal("no-shift", "acknowledge", "B2", by="tim")
    event = bench.must("hand-shift", "tim")
    assert (event.data["outgoing"], event.data["incoming"]) == ("ann", "tim")
    assert set(event.data["under_way"]) == {"B2", "B3", "G4"} and unacknowledged(bench.unit) == ["B2", "B3"]
    bench.checked_refusal("no-shift", "acknowledge", "B2", by="ann")
    bench.checked_refusal("nothing-runs", "acknowledge", "G4", by="tim")
    seen = bench.must("acknowledge", "B2", by="tim")
    assert (seen.data["bath"], seen.data["min_s"], seen.data["outgoing"]) == ("H4", 720, "ann")
    assert seen.refs["cycle"] == bench.cycle("B2").id and unacknowledged(bench.unit) == ["B3"]
    bench.checked_refusal("nothing-runs", "acknowledge", "B2", by="tim")
    bench.must("acknowledge", "B3", by="tim")
    assert unacknowledged(bench.unit) == [] and bench.replayed() == bench.unit


def test_a_soak_that_was_lifted_meanwhile_needs_nobody_any_more_and_a_new_one_is_not_asked_for() -> None:
    bench = two_soaks()
    bench.must("hand-shift", "tim")
    bench.wait(720)
    bench.must("lift", "B2", temp_c=21)
    assert unacknowledged(bench.unit) == ["B3"]


def test_acknowledging_moves_nothing_and_leaves_the_cycle_as_it_was() -> None:
    bench = two_soaks()
    bench.must("hand-shift", "tim")
    before = bench.cycle("B2")
    bench.must("acknowledge", "B2", by="tim")
    assert bench.cycle("B2") == before
