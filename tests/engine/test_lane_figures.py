"""The figures of a lane, and the state kept as plain values."""

from __future__ import annotations

import json

import pytest
from driver import SCOPES, Bench

from protocols.bath import unusable
from protocols.cycle import State
from protocols.errors import Defect
from protocols.event import Event
from protocols.fold import evolve, without_archived
from protocols.lane import Lane, lanes
from protocols.plain import from_plain, to_plain
from protocols.prompts import Level
from protocols.unit import Bath, Cycle, Unit


def lane(bench: Bench, tag: str = "B2") -> Lane:
    return next(x for x in lanes(bench.unit, bench.shelf, bench.now) if x.scope == tag)


def test_the_lane_of_a_soak() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(180)
    seen = lane(bench)
    assert (seen.state, seen.kind, seen.level) == (State.IN, "soak", None)
    assert (seen.passed_s, seen.needed_s, seen.left_s, seen.fraction) == (180, 720, 540, 0.25)
    assert (seen.limit_in_s, seen.over_s, seen.delay_in_s) == (1140, 0, None)
    bench.wait(1500)
    seen = lane(bench)
    assert (seen.level, seen.left_s, seen.fraction, seen.over_s) == (Level.VERY_LATE, 0, 1.0, 360)


def test_the_lane_before_cleaning_counts_down_the_delay() -> None:
    bench = Bench()
    bench.receive("B2")
    bench.wait(60)
    seen = lane(bench)
    assert (seen.delay_in_s, seen.limit_in_s, seen.kind, seen.fraction) == (2940, None, "", 1.0)
    bench.wait(3000)
    assert lane(bench).over_s == 60


def test_position_and_length_follow_the_path_that_the_cycle_takes() -> None:
    bench = Bench()
    met = []
    bench.receive("B2")
    while "B2" in bench.unit.cycles:
        met.append((lane(bench).position, lane(bench).length))
        bench.go("B2")
    length = met[0][1]
    assert [p for p, _ in met] == sorted(p for p, _ in met) and {n for _, n in met} == {length}
    assert {p for p, _ in met} == set(range(length))
    bench.receive("B3", precleaned="no")
    assert lane(bench, "B3").length == length + 1
    bench.take_to("B3", "leak-test")
    bench.wait(1)
    bench.must("look", "B3", outcome="leak")
    assert (lane(bench, "B3").position, lane(bench, "B3").length) == (0, 3)


def test_lanes_stand_in_order_of_need() -> None:
    bench = Bench()
    for tag in ("B2", "B3"):
        bench.take_to(tag, "disinfectant-soak")
        bench.strip(tag)
    bench.must("start", "B3", **bench.start_values("B3"))
    bench.wait(200)
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(600)
    assert [x.scope for x in lanes(bench.unit, bench.shelf, bench.now)] == ["B3", "B2"]
    bench.wait(1200)
    assert [x.over_s for x in lanes(bench.unit, bench.shelf, bench.now)] == [680, 480]


def busy() -> Bench:
    """A bench with something of everything: soaks, holds, a leak, a delay, tests, closed baths, an undoable tap."""
    bench = Bench()
    bench.whole_cycle("L8")
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    bench.receive("G4", precleaned="no")
    bench.take_to("C5", "leak-test")
    bench.wait(1)
    bench.must("look", "C5", outcome="leak")
    bench.soaking("B3")
    bench.strip("D6", result="fail")
    bench.pour("H5", "h2o2-75", opened="2026-11-20")
    bench.must("close-bath", "H4", reason="weak")
    bench.take_to("D6", "machine-run")
    bench.must("start", "D6", machine="M", run="1")
    bench.take_to("U7", "brush-port")
    return bench


def test_the_whole_state_goes_to_json_and_back() -> None:
    bench = busy()
    plain = json.loads(json.dumps(to_plain(bench.unit), allow_nan=False))
    back = from_plain(Unit, plain)
    assert back == bench.unit == bench.replayed()
    assert isinstance(back.cycles["B3"], Cycle) and isinstance(back.baths["H4"], Bath)
    assert back.cycles["B2"].hold == bench.cycle("B2").hold and isinstance(back.cycles["B2"].flags, frozenset)


def test_the_folded_state_takes_the_next_events_like_the_unfolded() -> None:
    bench = busy()
    middle = len(bench.events)
    half = from_plain(Unit, json.loads(json.dumps(to_plain(bench.unit))))
    for tag in ("U7", "D6", "G4"):
        bench.whole_cycle(tag, "H5") if tag != "G4" else bench.take_to(tag, "extended-soak")
    for event in bench.events[middle:]:
        half = evolve(half, event)
    assert half == bench.unit


def test_what_a_checkpoint_leaves_out_changes_no_decision() -> None:
    bench = busy()
    covering = bench.strip("U7", "H5").data["test"]
    bench.strip("G4", "H5")
    bench.must("void", "G4", reason="never came")
    kept = without_archived(bench.unit)
    assert set(kept.scopes) == set(SCOPES) and kept.cycles == bench.unit.cycles
    assert {b.label for b in kept.baths.values() if b.closed} == {"H4"}  # closed, yet B3 lies in it
    assert len(bench.bath("H5").tests) == 2 and any(t.used for t in bench.bath("H4").tests.values())
    assert [id for b in kept.baths.values() for id in b.tests] == [covering], "neither used nor of an ended cycle"
    for label, bath in kept.baths.items():
        before, after = unusable(bench.bath(label), bench.unit, bench.now), unusable(bath, kept, bench.now)
        assert before == after
    bench.unit = kept
    bench.wait(720)
    assert bench.must("lift", "B3").data["result"] == "full"
    assert "H4" not in without_archived(bench.unit).baths


def test_undo_after_a_checkpoint_gives_the_strip_back() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.unit = without_archived(bench.unit)
    bench.wait(3)
    bench.must("undo", "B2")
    bench.wait(1)
    bench.must("start", "B2", **bench.start_values("B2"))


@pytest.mark.parametrize("odd", [{"cycles": {"B2": {"id": "x", "mood": 1}}}, {"weather": 1}])
def test_a_checkpoint_of_another_shape_is_a_defect(odd: dict[str, object]) -> None:
    with pytest.raises(Defect, match="unknown fields"):
        from_plain(Unit, odd)
    with pytest.raises(Defect, match="can't keep"):
        to_plain({"a": object()})


def test_the_fold_knows_every_kind_and_no_other() -> None:
    bench = Bench()
    event = bench.events[-1]
    strange = Event(
        event.v, event.seq + 1, event.device, "dance", "B2", {}, event.elapsed, event.wall, event.boot, "ann", {}
    )  # fmt: skip
    with pytest.raises(Defect, match="no fold for event kind 'dance'"):
        evolve(bench.unit, strange)
