"""Disinfectant and detergent soaks: full, early, interrupted, too cold, late, unproven, in a doubtful bath."""

from __future__ import annotations

import pytest
from driver import Bench
from load_cases import added, fig, in_step
from odd_protocols import odd

from protocols.cycle import State


def test_contact_counts_from_the_start_and_leads_to_the_rinse() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720)
    event = bench.must("lift", "B2")
    assert (event.data["result"], event.data["contact_s"], event.data["required_s"]) == ("full", 720, 720)
    assert "lift_temp_c" not in event.data and event.refs["test"] in bench.bath("H4").tests
    cycle = bench.cycle("B2")
    assert cycle.disinfected and cycle.step == "final-rinse" and not cycle.running and cycle.hold is None


def test_a_start_names_everything_in_one_command() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    good = bench.start_values("B2")
    for missing, key in (
        ("bath", "no-bath-named"), ("temp_c", "no-temperature"), ("under", "needs"), ("filled", "needs"),
        ("parts", "needs"),
    ):  # fmt: skip
        bench.checked_refusal(key, "start", "B2", **{k: v for k, v in good.items() if k != missing})
        if key == "needs":
            bench.checked_refusal(key, "start", "B2", **{**good, missing: False})
    bench.checked_refusal("unknown-bath", "start", "B2", **{**good, "bath": "H9"})
    event = bench.must("start", "B2", **good)
    assert set(event.refs) == {"cycle", "scope", "case", "bath", "test"}
    assert (event.data["bath_temp_c"], event.data["claim"]) == (21, "opa-055-20c")


def test_an_early_lift_is_refused_and_says_how_long_still() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(719.001)
    no = bench.checked_refusal("early-lift", "lift", "B2", temp_c=21)
    assert "11:59 of 12:00" in no.why and "0:01 to go" in no.why
    bench.wait(0.999)
    bench.must("lift", "B2", temp_c=21)


def test_an_early_lift_with_a_reason_begins_again_with_a_new_strip_and_temperature() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(700)
    event = bench.must("lift", "B2", reason="bath was knocked over")
    assert (event.data["result"], event.data["contact_s"]) == ("early", 700)
    assert event.data["reason"] == "bath was knocked over"
    cycle = bench.cycle("B2")
    assert (cycle.step, cycle.running, cycle.soak, cycle.timer, cycle.disinfected) == (
        "disinfectant-soak", False, None, None, False,
    )  # fmt: skip
    bench.wait(1)
    bench.checked_refusal("no-strip", "start", "B2", **bench.start_values("B2"))
    used = next(iter(bench.bath("H4").tests))
    bench.checked_refusal("strip-used", "start", "B2", test=used, **bench.start_values("B2"))
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(719)
    bench.checked_refusal("early-lift", "lift", "B2")


def test_an_interrupted_soak_never_resumes() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(715)
    cut = bench.must("interrupt", "B2", reason="power cut")
    assert (cut.data["contact_s"], cut.data["reason"], cut.refs["bath"]) == (715, "power cut", bench.bath("H4").uid)
    bench.checked_refusal("not-running", "lift", "B2")
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(10)
    bench.checked_refusal("early-lift", "lift", "B2")


def test_a_late_lift_is_taken_rinsed_and_then_waits_for_a_lead() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 600 + 0.001)
    event = bench.must("lift", "B2")
    assert event.data["result"] == "late" and event.data["late_s"] == pytest.approx(0.001)
    hold = bench.cycle("B2").hold
    assert hold is not None and hold.kind == "late lift" and "past its limit of 22:00" in hold.why
    while bench.state("B2") is not State.WAITING:
        bench.go("B2")
    assert bench.cycle("B2").step == "alcohol-flush"  # every rinse was done, nothing beyond
    bench.wait(1)
    bench.checked_refusal("wait-lead", "skip", "B2", reason="r")
    bench.checked_refusal("lead-only", "decide", "B2", by="tim", decision="continue", reason="r")
    bench.must("decide", "B2", decision="continue", reason="IFU allows it")
    assert bench.whole_cycle("B2")[-1].data["ends"] == "completed"


def test_a_lift_on_the_limit_is_not_late() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720 + 600)
    assert bench.must("lift", "B2").data["result"] == "full"


def test_a_soak_past_its_limit_is_not_talked_away_as_interrupted() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(4000)
    bench.checked_refusal("past-limit", "interrupt", "B2", reason="I forgot it")
    assert bench.must("lift", "B2", reason="forgotten").data["result"] == "late"


def test_the_temperature_of_a_long_soak_is_taken_again_at_lift() -> None:
    bench = Bench()
    bench.pour("H5", "h2o2-75")  # 30 min: beyond the 20 min from which the step asks again
    bench.soaking("B2", "H5")
    bench.wait(1800)
    bench.checked_refusal("no-temperature", "lift", "B2")
    event = bench.must("lift", "B2", temp_c=19.9)
    assert event.data["result"] == "too cold" and "from zero" in event.data["notices"][0]
    # The record keeps what was measured, in which bath and under which strip.
    assert event.data["lift_temp_c"] == 19.9 and event.data["bath"] == "H5"
    bath = bench.bath("H5")
    assert event.refs["bath"] == event.data["bath_uid"] == bath.uid and event.refs["test"] in bath.tests
    assert bench.state("B2") is State.OUT and not bench.cycle("B2").disinfected
    bench.wait(1)
    bench.checked_refusal("no-strip", "start", "B2", **bench.start_values("B2", "H5"))


def test_a_temperature_once_measured_counts_in_a_short_soak_too() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(720)
    assert bench.must("lift", "B2", temp_c=15).data["result"] == "too cold"
    assert not bench.cycle("B2").disinfected


def test_a_late_lift_of_a_long_soak_is_taken_without_a_temperature_too() -> None:
    bench = Bench()
    bench.pour("H5", "h2o2-75")
    bench.soaking("B2", "H5")
    bench.wait(1800 + 600 + 1)
    assert bench.must("lift", "B2").data["result"] == "late"


def test_late_and_cold_is_unproven() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2000)
    event = bench.must("lift", "B2", temp_c=15)
    assert (event.data["result"], event.data["late_s"]) == ("unproven", 2000 - 1320)
    assert (event.data["contact_s"], event.data["lift_temp_c"]) == (2000, 15)
    assert "0:00 of 12:00 proven" in event.data["hold"]["why"]
    assert bench.cycle("B2").step == "final-rinse" and bench.state("B2") is State.RINSE  # out, and rinsed at once
    bench.wait(1)
    bench.checked_refusal("no-choice", "choose", "B2", way="machine")  # what follows is a lead's
    assert not bench.cycle("B2").disinfected
    bench.checked_refusal("unproven", "decide", "B2", decision="continue", reason="r")


def test_after_a_reboot_only_proven_time_counts_and_the_gap_may_have_been_too_long() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(300)
    _ = bench.now
    bench.reboot(down_s=200)  # together 500 s at most: too short to be late
    bench.wait(419.999)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.wait(0.001)
    assert bench.must("lift", "B2").data["result"] == "full"
    bench.soaking("B3")
    bench.wait(300)
    _ = bench.now
    bench.reboot(down_s=3600)
    event = bench.must("lift", "B3")
    assert (event.data["result"], event.data["contact_s"]) == ("unproven", 300)
    assert event.data["late_s"] > 2000
    assert not bench.cycle("B3").disinfected
    bench.checked_refusal("unproven", "decide", "B3", decision="continue", reason="r")
    bench.must("decide", "B3", decision="disinfect-again", reason="r")
    assert bench.cycle("B3").step == "disinfectant-soak"


def test_a_detergent_soak_has_its_own_minimum_and_maximum() -> None:
    bench = Bench()
    bench.take_to("B2", "detergent-soak")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(59.999)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.wait(2000)
    event = bench.must("lift", "B2")
    assert event.data["result"] == "late" and set(event.refs) == {"cycle", "scope", "case", "bath"}
    assert not bench.cycle("B2").disinfected
    while bench.state("B2") is not State.WAITING:
        bench.go("B2")
    assert bench.cycle("B2").step == "inspect"


def test_a_maximum_shorter_than_the_contact_time_is_refused_at_the_start() -> None:
    bench = odd(in_step("hld", fig("over_s_max", 600), fig("soak_s_max", 700)))
    bench.take_to("X1", "hld")
    bench.strip("X1")
    no = bench.checked_refusal("soak-limits", "start", "X1", **bench.start_values("X1"))
    assert "12:00" in no.why and "11:40" in no.why


def test_a_maximum_of_just_the_contact_time_is_kept_and_a_soak_without_one_is_never_late() -> None:
    just = odd(in_step("hld", fig("over_s_max", 600), fig("soak_s_max", 720)))
    just.take_to("X1", "hld")
    just.strip("X1")
    just.must("start", "X1", **just.start_values("X1"))
    just.wait(720)
    assert just.must("lift", "X1", temp_c=21).data["result"] == "full"
    without = odd(in_step("hld", fig("over_s_max", 600), ""))
    without.take_to("X1", "hld")
    without.strip("X1")
    assert without.must("start", "X1", **without.start_values("X1")).data["soak"]["max_s"] is None
    without.wait(9000)
    assert without.must("lift", "X1", temp_c=21).data["result"] == "full"
    assert without.cycle("X1").hold is None


@pytest.mark.parametrize(("from_s", "asked"), [(719, True), (720, True), (721, False)])
def test_the_temperature_at_lift_is_asked_from_the_steps_own_length_of_contact(from_s: float, asked: bool) -> None:
    bench = odd(in_step("hld", fig("over_s_max", 600), fig("over_s_max", 600) + fig("recheck_from_s", from_s)))
    bench.take_to("X1", "hld")
    bench.strip("X1")
    bench.must("start", "X1", **bench.start_values("X1"))
    bench.wait(720)
    if asked:
        bench.checked_refusal("no-temperature", "lift", "X1")
    assert bench.must("lift", "X1", **({"temp_c": 20} if asked else {})).data["result"] == "full"


def test_a_strip_that_fails_while_a_scope_lies_in_the_bath_makes_its_lift_wait() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.pour("H5", "opa-055-20c")
    bench.soaking("G4", "H5")  # in another bath: nothing to doubt
    bench.take_to("B3", "disinfectant-soak")
    lying = bench.strip("B3", result="fail").data["doubt"]["scopes"]
    assert lying == ["B2"]
    bench.wait(720)
    bench.must("lift", "B2")
    hold = bench.cycle("B2").hold
    assert hold is not None and hold.kind == "doubtful bath" and "H4 failed a strip test" in hold.why
    assert bench.replayed() == bench.unit


def test_a_late_lift_from_a_doubtful_bath_waits_for_both_reasons() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.take_to("B3", "disinfectant-soak")
    bench.strip("B3", result="fail")
    bench.wait(2000)
    assert bench.must("lift", "B2").data["result"] == "late"
    hold = bench.cycle("B2").hold
    assert hold is not None and hold.kind == "doubtful bath"
    assert "H4 failed a strip test" in hold.why and "past its limit of 22:00" in hold.why


@pytest.mark.parametrize(("lain_s", "kind"), [(719, "doubtful bath"), (720, "")])
def test_a_bath_discarded_under_a_scope_makes_its_lift_wait_unless_contact_was_complete(
    lain_s: float, kind: str
) -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(lain_s)
    bench.must("close-bath", "H4", reason="spilled")
    bench.pour("H4", "opa-055-20c")
    bench.wait(10)
    bench.must("lift", "B2")
    hold = bench.cycle("B2").hold
    assert (hold.kind if hold else "") == kind


def test_the_end_of_cleaning_may_be_a_soak() -> None:
    text = added("extended", "ends_cleaning = true").replace('when = "delayed"\n', "")
    bench = odd(text.replace("ends_cleaning = true\ntimes", "times"))
    bench.take_to("X1", "extended")
    bench.go("X1")
    lifted = bench.go("X1")
    assert lifted.data["clean_s"] > 600
