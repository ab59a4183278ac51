"""When scopes are ready: ranges that hold by their own figures, wanted times with their slack, what would help."""

from __future__ import annotations

import pytest
from driver import LIBRARY, Bench

from protocols.dispatch import run
from protocols.drawing import Drawn
from protocols.durations import Durations, Seen, read_durations
from protocols.forecast import changes, forecast, missed
from protocols.hands import HandsPlan, plan_chains, plan_hands

DURATIONS = read_durations((LIBRARY / "durations.toml").read_text("utf-8"), "durations.toml")
# Nothing unforeseen and no spread to speak of: then a forecast is the plan.
STEADY = Durations(
    {what: guess._replace(most_s=guess.typical_s * 1.0001) for what, guess in DURATIONS.guesses.items()},
    dict.fromkeys(DURATIONS.upsets, 0.0),
)
NODES = 1500


def planned(bench: Bench, durations: Durations = DURATIONS) -> HandsPlan:
    return plan_hands(bench.unit, bench.shelf, bench.now, durations, NODES)


def busy() -> Bench:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    for tag in ("B2", "G4", "C5"):
        bench.receive(tag)
        bench.wait(30)
    return bench


def test_without_chance_the_forecast_is_the_plan() -> None:
    plan = planned(busy(), STEADY)
    found = forecast(plan, STEADY, 1, 20)
    assert set(found) == {"B2", "G4", "C5"}
    for scope, ready in found.items():
        for second in (ready.middle_s, *ready.half_s, *ready.most_s):
            assert second == pytest.approx(plan.done_s[scope], abs=3)


def test_the_ranges_lie_within_each_other_and_are_the_same_for_the_same_seed() -> None:
    plan = planned(busy())
    found = forecast(plan, DURATIONS, 7)
    assert set(found) == {"B2", "G4", "C5"}
    for ready in found.values():
        assert ready.most_s[0] <= ready.half_s[0] <= ready.middle_s <= ready.half_s[1] <= ready.most_s[1]
        assert ready.most_s[1] - ready.most_s[0] > 300
    assert forecast(plan, DURATIONS, 7) == found
    assert forecast(plan, DURATIONS, 8) != found


def test_whoever_plans_beside_others_is_asked_often_and_answers_the_same() -> None:
    asked = []

    def pace() -> bool:
        asked.append(1)
        return False

    plan = planned(busy())
    calls = []
    for work in (
        lambda pace: plan_chains(plan.chains, plan.room, plan.at, NODES, pace),
        lambda pace: forecast(plan, DURATIONS, 7, pace=pace),
        lambda pace: changes(plan, NODES, pace),
        lambda pace: missed(plan, forecast(plan, DURATIONS, 7), DURATIONS, 7, NODES, pace),
    ):
        asked.clear()
        assert work(pace) == work(lambda: False)
        calls.append(len(asked))
    alone, drawn, changed, _ = calls
    assert alone >= plan.nodes / 500 and drawn >= 100 * len(plan.chains) and changed > alone


def test_the_ranges_hold_what_they_say_of_runs_drawn_anew() -> None:
    plan = planned(busy())
    ready, hits = forecast(plan, DURATIONS, 1, 400)["G4"], [0, 0]
    for seed in range(400):
        came = forecast(plan, DURATIONS, 10_000 + seed, 1)["G4"].middle_s
        hits[0] += ready.half_s[0] <= came <= ready.half_s[1]
        hits[1] += ready.most_s[0] <= came <= ready.most_s[1]
    # 400 runs against ranges of 400: four standard errors of a share of each.
    assert hits[0] / 400 == pytest.approx(0.5, abs=0.14)
    assert hits[1] / 400 == pytest.approx(0.9, abs=0.09)


def test_ends_that_turn_out_otherwise_now_and_then_widen_the_range_of_nine_of_ten_and_hardly_the_middle() -> None:
    plan = planned(busy(), STEADY)
    never, often = (
        forecast(
            plan, Durations(STEADY.guesses, {**STEADY.upsets, "turned_share": share, "turned_spread": 0.3}), 1, 400
        )
        for share in (0.0, 0.3)
    )
    assert set(often) == {"B2", "G4", "C5"}
    for scope, ready in often.items():
        assert ready.middle_s == pytest.approx(never[scope].middle_s, abs=3)
        assert ready.half_s == pytest.approx(never[scope].half_s, rel=0.03)
        low, high = ready.most_s[0] / never[scope].most_s[0], ready.most_s[1] / never[scope].most_s[1]
        # 5 of the 30 in 100 that turn out otherwise lie beyond on either side: exp(0.3 * 0.967), a normal quantile.
        assert (low, high) == (pytest.approx(0.748, abs=0.1), pytest.approx(1.337, abs=0.13))


def test_no_end_is_forecast_before_soaks_and_drying_can_be_over() -> None:
    wild = Durations(DURATIONS.guesses, {**DURATIONS.upsets, "turned_share": 1.0, "turned_spread": 3.0})
    plan = planned(busy(), wild)
    for chain in plan.chains:
        waits_s = sum(piece.after.min_s for piece in chain.pieces if piece.after is not None)
        assert waits_s > 600
        assert forecast(plan, wild, 1)[chain.scope].most_s[0] == round(waits_s)


def test_slow_hands_of_the_unit_put_the_forecast_off() -> None:
    bench = busy()
    brush = next(s for s in bench.shelf.protocol(bench.cycle("G4").text_sha256).steps if s.kind == "pass")
    slow = DURATIONS.with_own({("gastroscope", brush.id): [Seen(900, True)] * 40})
    usual, put_off = (forecast(planned(bench, d), d, 1)["G4"].middle_s for d in (DURATIONS, slow))
    assert put_off - usual > 400


def test_a_wanted_time_has_its_slack_and_share_of_runs() -> None:
    bench = Bench()
    bench.receive("B2", wanted_by="2026-11-25T12:00:00+00:00")
    easy = forecast(planned(bench), DURATIONS, 1)["B2"]
    assert easy.slack_s is not None and easy.slack_s > 0 and easy.by_wanted == 1
    hard = Bench()
    hard.receive("B2", wanted_by="2026-11-25T08:20:00+00:00")
    late = forecast(planned(hard), DURATIONS, 1)["B2"]
    assert late.slack_s is not None and late.slack_s < 0 and late.by_wanted == 0
    assert forecast(planned(busy()), DURATIONS, 1)["B2"].slack_s is None


def test_what_would_bring_a_missed_scope_forward_is_named_and_does() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    for tag in ("G4", "D6", "U7"):
        bench.receive(tag)
        bench.wait(20)
    bench.receive("C5", wanted_by="2026-11-25T09:00:00+00:00")
    plan = planned(bench)
    ready = forecast(plan, DURATIONS, 1)
    # Nothing is begun, so every other scope could be left for later; named is what helps most of these and more hands.
    named = missed(plan, ready, DURATIONS, 1, NODES)["C5"]
    others = {"hands": plan_chains(plan.chains, plan.room._replace(hands=2), plan.at, NODES)}
    for tag in ("G4", "D6", "U7"):
        others[tag] = plan_chains([c for c in plan.chains if c.scope != tag], plan.room, plan.at, NODES)
    gains = {what: forecast(p, DURATIONS, 1)["C5"].slack_s - ready["C5"].slack_s for what, p in others.items()}
    best = max(gains, key=lambda what: gains[what])
    assert (named.scope if named.what == "later" else named.what, named.sooner_s) == (best, gains[best])
    # What is begun can't be left: then a second pair of hands is named, and does it.
    plan = plan._replace(chains=tuple(c._replace(begun=True) for c in plan.chains))
    helps = missed(plan, ready, DURATIONS, 1, NODES)["C5"]
    assert helps.what == "hands" and helps.sooner_s >= 60
    bench.must("set-unit", "unit", hands=2)
    then = forecast(planned(bench), DURATIONS, 1)["C5"]
    assert then.slack_s - ready["C5"].slack_s == pytest.approx(helps.sooner_s, abs=120)
    assert missed(plan, {}, DURATIONS, 1, NODES) == {}


def test_the_change_that_helps_most_comes_first() -> None:
    bench = Bench()
    for tag in ("B2", "B3"):
        bench.take_to(tag, "disinfectant-soak")
    found = changes(planned(bench), NODES)
    assert found[0].what == "bath" and found[0].sooner_s > 300
    late = Bench()
    late.soaking("B2")
    late.wait(1300)
    late.receive("C5", procedure_end="2026-11-25T07:30:00+00:00")
    # C5 must be begun soon and so comes before B2's rinse: more hands help, and so does leaving C5 for later, no more.
    helping = [change for change in changes(planned(late), NODES) if change.late_less_s > 0]
    assert helping[0].what == "hands"
    assert {(change.what, change.scope) for change in helping[1:]} <= {("later", "C5")}
    assert all(change.late_less_s <= helping[0].late_less_s for change in helping)
    assert changes(planned(Bench()), NODES) == []


def test_a_run_of_the_forecast_breaks_no_minimum() -> None:
    plan = planned(busy())
    drawn = Drawn(plan.chains, plan.room)
    ran = run(plan.chains, plan.order, drawn.given())
    assert len(plan.chains) == 3 and sum(len(chain.pieces) for chain in plan.chains) > 10
    for chain in plan.chains:
        for number, piece in enumerate(chain.pieces[:-1]):
            here, there = (chain.scope, number), (chain.scope, number + 1)
            least = piece.length_s + (piece.after.min_s if piece.after else 0)
            began = ran.start_s[here] + ran.change_s[here]
            assert ran.start_s[there] + ran.change_s[there] >= began + least - 1e-6
