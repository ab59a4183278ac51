"""How well forecasts held: what is noted, what counts as a result, and the shares that come of it."""

from __future__ import annotations

from driver import Bench

from protocols.calibration import EVERY_S, KEPT, Calibration, Came
from protocols.forecast import Ready


def ready(scope: str, middle_s: int) -> dict[str, Ready]:
    return {
        scope: Ready(scope, middle_s, (middle_s - 60, middle_s + 60), (middle_s - 300, middle_s + 300)),
    }


def completed(bench: Bench, tag: str) -> None:
    while tag in bench.unit.cycles:
        bench.go(tag)


def test_a_forecast_is_held_against_the_end_of_its_cycle() -> None:
    bench = Bench()
    bench.receive("B2")
    begun = bench.now
    kept = Calibration().noting(bench.unit, begun, ready("B2", 3600))
    assert [one.scope for one in kept.noted] == ["B2"]
    assert kept.ended(bench.unit) == kept  # still under way
    completed(bench, "B2")
    took_s = (bench.unit.scopes["B2"].last.ended.longest_ms - begun.longest_ms) / 1000
    after = kept.ended(bench.unit)
    assert after.noted == ()
    assert [came.in_s for came in after.results] == [took_s]
    assert (after.halves, after.mosts) == (int(3540 <= took_s <= 3660), int(3300 <= took_s <= 3900))
    assert Calibration().noting(bench.unit, bench.now, ready("B2", 10)).noted == ()  # no cycle under way


def test_a_cycle_that_was_not_completed_says_nothing() -> None:
    bench = Bench()
    bench.receive("B2")
    kept = Calibration().noting(bench.unit, bench.now, ready("B2", 3600))
    bench.must("out-of-service", "B2", reason="the sheath is torn", owner="mira")
    assert kept.ended(bench.unit) == kept._replace(noted=())


def test_one_forecast_in_twenty_minutes_is_noted() -> None:
    bench = Bench()
    bench.receive("B2")
    kept = Calibration().noting(bench.unit, bench.now, ready("B2", 3600))
    bench.wait(EVERY_S - 1)
    assert kept.noting(bench.unit, bench.now, ready("B2", 2400)) == kept
    bench.wait(1)
    assert len(kept.noting(bench.unit, bench.now, ready("B2", 2400)).noted) == 2


def test_the_ends_of_a_range_belong_to_it() -> None:
    one = ready("B2", 1000)["B2"]
    assert [Came(s, one).in_half for s in (939, 940, 1060, 1061)] == [False, True, True, False]
    assert [Came(s, one).in_most for s in (699, 700, 1300, 1301)] == [False, True, True, False]
    assert [Came(s, one).later for s in (1300, 1301)] == [False, True]


def test_only_the_newest_results_are_kept() -> None:
    results = tuple(Came(float(number), ready("B2", 1000)["B2"]) for number in range(KEPT + 5))
    kept = Calibration(results=results).ended(Bench().unit)
    assert len(kept.results) == KEPT
    assert kept.results[0].in_s == 5
