"""Timed rinses, drying air, machine runs and the choice between soak and machine."""

from __future__ import annotations

import pytest
from driver import Bench
from load_cases import GOOD, fig, in_step, moved, step_text
from odd_protocols import odd

from protocols.cycle import State
from protocols.prompts import Level, due


def test_each_rinse_lasts_its_time_from_the_one_before() -> None:
    bench = Bench()
    bench.take_to("B2", "final-rinse")
    given = bench.given("B2")
    bench.wait(1)
    bench.checked_refusal("not-running", "count", "B2", **given)
    bench.must("start", "B2")
    for number in (1, 2, 3):
        bench.wait(59.999)
        no = bench.checked_refusal("too-soon", "count", "B2", **given)
        assert "0:59 of 1:00" in no.why and "0:01 to go" in no.why
        bench.wait(0.001)
        assert bench.must("count", "B2", **given).data["count"] == number
    assert bench.cycle("B2").step == "final-flush"


def test_only_a_count_whose_each_has_a_time_is_started() -> None:
    bench = Bench()
    bench.take_to("B2", "final-flush")
    before = bench.unit
    bench.checked_refusal("other-step", "start", "B2")
    assert bench.unit == before


def test_a_reboot_in_a_rinse_proves_nothing() -> None:
    bench = Bench()
    bench.take_to("B2", "final-rinse")
    given = bench.given("B2")
    bench.wait(1)
    bench.must("start", "B2")
    bench.wait(30)
    _ = bench.now
    bench.reboot(3600)
    bench.wait(29)
    bench.checked_refusal("too-soon", "count", "B2", **given)
    bench.wait(1)
    bench.must("count", "B2", **given)


def test_a_rinse_begun_late_is_recorded_and_a_leads_decision_does_not_begin_it() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    bench.wait(200)
    bench.must("decide", "B2", decision="continue", reason="r")
    bench.wait(101)
    late = bench.must("start", "B2")
    assert late.data["start_late_s"] == pytest.approx(1)
    assert bench.cycle("B2").timer is not None and bench.cycle("B2").timer.kind == "each"


def test_air_runs_ten_minutes_and_then_until_dry() -> None:
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.wait(1)
    bench.must("start", "B2")
    bench.wait(599.999)
    bench.checked_refusal("too-soon", "check", "B2", dry=True)
    bench.checked_refusal("too-soon", "check", "B2", dry=False)
    bench.wait(0.001)
    for number in range(1, 20):
        wet = bench.must("check", "B2", dry=False)
        assert wet.data["dry"] is False and bench.cycle("B2").done == number
        bench.wait(900)  # hours: there is no upper limit
    event = bench.must("check", "B2", dry=True)
    assert event.data["air_s"] == 600 + 19 * 900
    dried = bench.cycle("B2").dried
    assert dried is not None and dried.wall_ms == bench.now.wall_ms


def test_interrupted_air_begins_again() -> None:
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.wait(1)
    bench.must("start", "B2")
    bench.wait(590)
    bench.must("interrupt", "B2", reason="air supply failed")
    bench.must("start", "B2")
    bench.wait(590)
    bench.checked_refusal("too-soon", "check", "B2", dry=True)


def in_machine(bench: Bench, tag: str = "D6") -> None:
    bench.take_to(tag, "machine-run")
    bench.wait(1)
    bench.must("start", tag, machine="M2", run="88")


def test_a_machine_run_names_machine_and_run_and_lasts_its_time() -> None:
    bench = Bench()
    bench.take_to("D6", "machine-run")
    bench.wait(1)
    bench.checked_refusal("needs-record", "start", "D6", machine="M2")
    bench.checked_refusal("needs-record", "start", "D6", run="88")
    event = bench.must("start", "D6", machine="M2", run="88")
    assert event.refs["machine"] == "M2" and event.data["run"] == "88"
    bench.wait(1199.999)
    bench.checked_refusal("too-soon", "run-end", "D6", result="complete")
    bench.wait(0.001)
    ended = bench.must("run-end", "D6", result="complete")
    assert (ended.data["result"], ended.data["run_s"]) == ("complete", 1200)
    assert bench.cycle("D6").disinfected and bench.cycle("D6").step == "alcohol-flush"


def test_the_start_of_a_run_can_be_taken_back() -> None:
    bench = Bench()
    in_machine(bench)
    bench.wait(3)
    bench.must("undo", "D6")
    timer = bench.cycle("D6").timer
    assert bench.state("D6") is State.RUN_OFF and timer is not None and timer.kind == "start"


def test_a_run_without_a_longest_time_is_never_late() -> None:
    bench = odd(in_step("machine", fig("run_s_max", 3600), ""))
    bench.take_to("X1", "inspect")
    bench.wait(1)
    bench.must("choose", "X1", way="machine")
    bench.take_to("X1", "machine")
    bench.wait(1)
    bench.must("start", "X1", machine="M1", run="1")
    bench.wait(90_000)
    assert [p.level for p in due(bench.unit, bench.now) if p.kind == "run"] == [Level.READY]
    assert bench.must("run-end", "X1", result="complete").data["run_s"] == 90_000


@pytest.mark.parametrize("result", ["failed", "interrupted"])
def test_a_run_that_did_not_complete_is_run_again_whole(result: str) -> None:
    bench = Bench()
    in_machine(bench)
    bench.wait(1190)
    bench.must("run-end", "D6", result=result)
    assert bench.state("D6") is State.RUN_OFF and not bench.cycle("D6").disinfected
    bench.must("start", "D6", machine="M2", run="89")
    bench.wait(1190)
    bench.checked_refusal("too-soon", "run-end", "D6", result="complete")


def test_soak_or_machine_is_chosen_until_one_has_begun() -> None:
    bench = Bench()
    bench.take_to("D6", "inspect")
    bench.wait(1)
    bench.checked_refusal("no-choice", "choose", "D6", way="machine")
    bench.must("choose", "D6", way="soak")
    bench.take_to("D6", "disinfectant-soak")
    bench.wait(1)
    bench.must("choose", "D6", way="machine")
    assert bench.state("D6") is State.RUN_OFF
    bench.must("start", "D6", machine="M2", run="1")
    bench.checked_refusal("run-on", "choose", "D6", way="soak")
    bench.wait(1200)
    bench.must("run-end", "D6", result="complete")
    for _ in range(3):
        bench.checked_refusal("no-choice", "choose", "D6", way="soak")
        bench.go("D6")


def test_changing_the_way_gives_no_new_time_in_which_to_begin() -> None:
    bench = Bench()
    bench.take_to("D6", "machine-run")
    bench.wait(3000)
    bench.must("choose", "D6", way="soak")
    bench.wait(500)
    bench.must("choose", "D6", way="machine")
    bench.wait(103)
    late = bench.must("start", "D6", machine="M2", run="1")
    assert late.data["start_late_s"] == pytest.approx(3)


def test_a_step_begun_at_the_last_moment_is_on_time_and_is_begun_once() -> None:
    text = in_step("final", fig("times", 3), fig("times", 3) + fig("start_within_s_max", 300))
    for over_s, late in ((0, None), (1, 1)):
        bench = odd(text)
        bench.take_to("X1", "final")
        timer = bench.cycle("X1").timer
        assert timer is not None and timer.kind == "start"
        bench.wait(300 + over_s - (bench.now.longest_ms - timer.since.longest_ms) / 1000)
        assert bench.must("count", "X1", fresh=True).data.get("start_late_s") == late
        assert bench.cycle("X1").timer is None  # begun: nothing calls for it any more
        bench.wait(1000)
        assert "start_late_s" not in bench.must("count", "X1", fresh=True).data


def test_a_protocol_with_one_way_offers_no_other() -> None:
    bench = odd(in_step("machine", step_text("machine"), ""))
    bench.receive("X1")
    bench.wait(1)
    bench.checked_refusal("no-choice", "choose", "X1", way="machine")


LID = '[[step]]\nid = "lid"\nstage = "disinfect"\nkind = "look"\nsays = "Lid."\noutcomes = { on = "next" }\n'


def test_a_choice_leaves_out_neither_disinfection_nor_a_step_between_the_two_ways() -> None:
    bench = odd(GOOD.replace(step_text("hld"), LID + step_text("hld")))
    bench.take_to("X1", "lid")  # past the machine run, which a soak leaves out
    bench.wait(1)
    bench.must("choose", "X1", way="machine")
    assert bench.cycle("X1").step == "machine"
    bench.wait(1)
    bench.must("choose", "X1", way="soak")
    assert bench.cycle("X1").step == "lid"
    bench.whole_cycle("X1")
    assert [e.data["result"] for e in bench.events if e.kind == "lift"] == ["full"]


def test_the_way_is_chosen_while_a_rinse_runs_and_no_more_after_contact() -> None:
    bench = odd(in_step("rinse", fig("times", 1), fig("times", 1) + fig("each_s_min", 60)))
    bench.take_to("X1", "rinse")
    bench.wait(1)
    bench.must("start", "X1")
    bench.wait(1)
    assert bench.must("choose", "X1", way="machine").data["by"] == "machine"
    lid = LID.replace("kind", 'when = "machine"\nkind')
    bench = odd(GOOD.replace(step_text("machine"), step_text("machine") + lid))
    bench.take_to("X1", "inspect")
    bench.wait(1)
    bench.must("choose", "X1", way="machine")
    bench.take_to("X1", "lid")
    bench.wait(1)
    bench.checked_refusal("no-choice", "choose", "X1", way="soak")


def test_a_choice_of_the_way_that_stands_first_goes_back_to_it() -> None:
    text = moved("hld", "machine").replace(
        step_text("machine"), LID.replace("kind", 'when = "machine"\nkind') + step_text("machine")
    )
    bench = odd(text)
    bench.take_to("X1", "inspect")
    bench.wait(1)
    bench.must("choose", "X1", way="machine")
    bench.take_to("X1", "lid")
    bench.wait(1)
    bench.must("choose", "X1", way="soak")
    assert bench.cycle("X1").step == "hld"


def test_air_and_a_run_ask_for_what_their_steps_need_and_a_run_has_its_longest_time() -> None:
    air = odd(in_step("air", 'bath = "air"\n', 'bath = "air"\nneeds = ["filled"]\n'))
    air.take_to("X1", "air")
    air.wait(1)
    air.checked_refusal("needs", "start", "X1")
    air.must("start", "X1", filled=True)
    text = in_step("machine", 'when = "machine"\n', 'when = "machine"\nneeds = ["filled"]\n')
    run = odd(text)
    run.take_to("X1", "inspect")
    run.wait(1)
    run.must("choose", "X1", way="machine")
    run.take_to("X1", "machine")
    run.wait(1)
    run.checked_refusal("needs", "start", "X1", machine="M1", run="1")
    started = run.must("start", "X1", machine="M1", run="1", filled=True)
    timer = run.cycle("X1").timer
    assert timer is not None and (timer.min_s, timer.max_s) == (1200, 3600)
    assert (started.data["machine"], started.data["confirmed"]) == ("M1", ["filled"])
    run.wait(60)
    failed = run.must("run-end", "X1", result="failed")
    assert (failed.data["result"], failed.data["run_s"]) == ("failed", 60)
