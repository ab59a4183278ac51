"""The dip of a test strip: its reading is timed from there, called for, and counts only in its window.

Windows for reading are the label's; the figures here are invented. That a strip is timed at all is in the HICPAC sample
audit tool's row on test strips (used "according to manufacturer's instructions"; read).
"""

from __future__ import annotations

from typing import Any

import pytest
from driver import Bench

from protocols.lane import lanes
from protocols.prompts import Level, calls_between, due, next_in_s

DIP = {"scope": "B2", "strip_lot": "S9"}
READ = {**DIP, "result": "pass"}


def dipped(**bottle: Any) -> Bench:
    """A bench with B2 before its disinfectant soak and a strip of S9 just dipped for it in H4."""
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S9", **{"read_s_from": 75, "read_s_to": 90, "dip_s": 1, **bottle})
    bench.must("dip-strip", "H4", **DIP)
    return bench


def called(bench: Bench) -> list[tuple[str, Level]]:
    return [(p.kind, p.level) for p in due(bench.unit, bench.now) if p.kind == "strip"]


def test_a_strip_is_read_from_its_dip_on_and_only_in_its_window() -> None:
    bench = dipped()
    bench.wait(74)
    no = bench.checked_refusal("strip-early", "strip-test", "H4", **READ)
    assert "in 1 s" in no.remedy
    bench.wait(1)
    event = bench.must("strip-test", "H4", **READ)
    assert (event.data["result"], event.data["read_after_s"]) == ("pass", 75)
    assert (event.data["read_s_min"], event.data["read_s_max"]) == (75, 90) and bench.cycle("B2").dip is None
    assert event.refs["strips"] == bench.unit.strips["S9"].uid
    bench.wait(1)
    assert bench.must("start", "B2", **bench.start_values("B2")).data["soak"]["test"] == event.data["test"]


@pytest.mark.parametrize(("wait_s", "result"), [(90, "pass"), (91, "void")])
def test_past_its_window_it_is_void(wait_s: int, result: str) -> None:
    bench = dipped()
    bench.wait(wait_s)
    assert bench.must("strip-test", "H4", **READ).data["result"] == result


def test_a_failing_strip_counts_at_any_time_after_its_dip() -> None:
    bench = dipped()
    bench.wait(3)
    event = bench.must("strip-test", "H4", **{**READ, "result": "fail"})
    assert event.data["read_after_s"] == 3 and bench.bath("H4").failed and bench.cycle("B2").dip is None


def test_the_reading_is_called_for_when_it_may_be_made_and_never_before() -> None:
    bench = dipped()
    assert called(bench) == []
    bench.wait(65)
    assert called(bench) == [("strip", Level.SOON)]
    bench.wait(9.999)
    assert called(bench) == [("strip", Level.SOON)]
    bench.wait(0.001)
    assert called(bench) == [("strip", Level.READY)]
    bench.wait(600)  # void by now: a new strip mends that, the scope itself is over no limit by it
    assert called(bench) == [("strip", Level.READY)]
    bench.must("dip-strip", "H4", **DIP)
    assert called(bench) == []


def test_without_a_window_it_may_be_read_at_once_and_with_a_short_one_soon() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S8")
    bench.must("dip-strip", "H4", scope="B2", strip_lot="S8")
    assert called(bench) == [("strip", Level.READY)]
    dip = bench.cycle("B2").dip
    read = bench.must("strip-test", "H4", scope="B2", strip_lot="S8", result="pass")
    assert dip is not None and (read.data["result"], read.data["dipped"]) == ("pass", dip.seq)
    bench.bottle("S9", read_s_from=5)
    bench.wait(1)
    bench.must("dip-strip", "H4", **DIP)
    assert called(bench) == [("strip", Level.SOON)]
    bench.wait(5)
    assert called(bench) == [("strip", Level.READY)]


def test_without_a_first_second_the_strip_waits_from_its_dip_on() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S9", read_s_to=90)
    bench.must("dip-strip", "H4", **DIP)
    bench.wait(30)
    assert [(p.kind, p.over_s) for p in due(bench.unit, bench.now) if p.kind == "strip"] == [("strip", 30)]


def test_the_calls_ahead_are_known_when_the_strip_is_dipped() -> None:
    bench = dipped()
    now = bench.now
    assert next_in_s(bench.unit, now) == pytest.approx(65)
    bench.wait(100)
    ahead = [(c.after_s, c.prompt.level) for c in calls_between(bench.unit, now, bench.now)
             if c.prompt.kind == "strip"]  # fmt: skip
    assert ahead == [(65, Level.SOON), (75, Level.READY)]


def test_the_lane_counts_down_to_the_reading() -> None:
    bench = dipped()
    bench.wait(30)
    (lane,) = lanes(bench.unit, bench.shelf, bench.now)
    assert (lane.strip_in_s, lane.strip_left_s) == (45, 60)
    bench.wait(70)
    (lane,) = lanes(bench.unit, bench.shelf, bench.now)
    assert (lane.strip_in_s, lane.strip_left_s) == (-25, -10)


def test_another_dip_takes_the_place_of_the_first_but_not_of_a_double_tap() -> None:
    bench = dipped()
    bench.checked_refusal("doubled", "dip-strip", "H4", **DIP)
    bench.wait(80)
    bench.must("dip-strip", "H4", **DIP)
    bench.checked_refusal("strip-early", "strip-test", "H4", **READ)


def test_typed_seconds_do_without_the_dip_that_was_recorded() -> None:
    bench = dipped()
    bench.wait(5)
    event = bench.must("strip-test", "H4", **READ, read_after_s=80)
    assert event.data["result"] == "pass" and "dipped" not in event.data and bench.cycle("B2").dip is None


def test_a_strip_dipped_before_the_bath_was_topped_up_covers_nothing() -> None:
    bench = dipped()
    bench.wait(10)
    bath = bench.bath("H4")
    bench.must("top-up", "H4", lot=bath.lot, expires=bath.expires, opened=bath.opened)
    assert bench.cycle("B2").dip is None
    bench.wait(70)
    bench.checked_refusal("needs-read-time", "strip-test", "H4", **READ)


@pytest.mark.parametrize("end", ["closed", "failed"])
def test_no_strip_is_called_for_in_a_bath_that_is_out_of_use(end: str) -> None:
    bench = dipped()
    bench.receive("B3")
    if end == "closed":
        bench.must("close-bath", "H4", reason="spilt")
    else:
        bench.must("strip-test", "H4", scope="B3", result="fail", strip_lot="S9")
    bench.wait(80)
    assert called(bench) == [] and bench.cycle("B2").dip is None


def test_a_dip_is_refused_where_its_strip_could_cover_nothing() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S9", controlled=False, read_s_from=75)
    bench.checked_refusal("strips-uncontrolled", "dip-strip", "H4", **DIP)
    bench.checked_refusal("unknown-bath", "dip-strip", "H9", **DIP)
    bench.checked_refusal("no-cycle", "dip-strip", "H4", scope="B3", strip_lot="S9")
    bench.receive("B3")
    bench.checked_refusal("strip-not-now", "dip-strip", "H4", scope="B3", strip_lot="S9")
    bench.pour("W9")
    bench.checked_refusal("not-hld", "dip-strip", "W9", **DIP)
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.bottle("S8", read_s_from=75)
    in_soak = {"scope": "B2", "strip_lot": "S8"}
    bench.checked_refusal("strip-not-now", "dip-strip", "H4", **in_soak)  # it lies in its soak: too late for a strip
    bench.take_to("G4", "detergent-soak")  # the next soak is not in disinfectant
    bench.checked_refusal("strip-not-now", "dip-strip", "H4", scope="G4", strip_lot="S8")


def test_a_dip_names_the_lot_of_its_bottle_or_as_it_was_typed() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S9", lot="L-7")
    event = bench.must("dip-strip", "H4", **DIP)
    assert (event.data["strip_lot"], event.refs["strips"]) == ("L-7", bench.unit.strips["S9"].uid)
    bench.must("set-unit", "unit", strip_register=False)
    bench.wait(1)
    event = bench.must("dip-strip", "H4", scope="B2", strip_lot="X1")
    assert event.data["strip_lot"] == "X1" and "strips" not in event.refs and "dip_s" not in event.data


def test_a_dip_in_a_bath_that_failed_is_refused() -> None:
    bench = dipped()
    bench.strip("B3", result="fail")
    bench.wait(1)
    bench.checked_refusal("bath-failed", "dip-strip", "H4", **DIP)


def test_a_dip_in_another_bath_or_after_half_a_second_is_no_double_tap() -> None:
    bench = dipped()
    bench.pour("H5", "opa-055-20c")
    other = bench.must("dip-strip", "H5", **DIP)
    dip = bench.cycle("B2").dip
    assert dip is not None and dip.bath == other.refs["bath"] == bench.bath("H5").uid
    bench.wait(0.5)
    bench.must("dip-strip", "H5", **DIP)


def test_while_the_handheld_was_off_nothing_is_proven_and_all_may_have_passed() -> None:
    bench = dipped()
    bench.wait(50)
    bench.now  # noqa: B018 - what the clock was last seen at is all that the old boot proves
    bench.reboot(down_s=30)
    bench.checked_refusal("strip-early", "strip-test", "H4", **READ)  # 50 s are proven
    bench.wait(25)  # 75 s are proven, 105 s may have passed
    event = bench.must("strip-test", "H4", **READ)
    assert (event.data["result"], event.data["read_after_s"]) == ("void", 75)


def test_a_record_with_dips_folds_again_to_the_same() -> None:
    bench = dipped()
    assert bench.replayed() == bench.unit and bench.unit.cycles["B2"].dip is not None
    bench.wait(80)
    bench.must("strip-test", "H4", **READ)
    assert bench.replayed() == bench.unit
