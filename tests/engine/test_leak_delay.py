"""The two branches off the ordinary path: a leak, and a delay before manual cleaning."""

from __future__ import annotations

from typing import Any

import pytest
from driver import SCOPES, TODAY, Bench
from load_cases import GOOD, fig, in_step, step_text, without
from odd_protocols import odd

from protocols.cycle import State
from protocols.event import Event
from protocols.prompts import due

BRANCH = ["leak-stop", "leak-decontaminate", "leak-tag"]


def leaking(tag: str = "B2") -> Bench:
    bench = Bench()
    bench.take_to(tag, "leak-test")
    bench.wait(1)
    bench.must("look", tag, outcome="leak")
    return bench


@pytest.mark.parametrize("tag", SCOPES)
@pytest.mark.parametrize("precleaned", ["yes", "no"])
def test_after_a_leak_only_the_repair_branch_is_left_and_nothing_is_immersed(tag: str, precleaned: str) -> None:
    bench = Bench()
    bench.receive(tag, precleaned=precleaned)
    bench.take_to(tag, "leak-test")
    bench.wait(1)
    bench.must("look", tag, outcome="leak")
    met = []
    while tag in bench.unit.cycles:
        step = bench.step(tag)
        assert step is not None and not step.bath and step.stage == "repair"
        met.append(step.id)
        bench.checked_refusal("other-step", "start", tag, bath="H4", temp_c=21, under=True, filled=True, parts=True)
        bench.go(tag)
    assert met == BRANCH
    last = bench.unit.scopes[tag].last
    assert last is not None and last.outcome == "out of service"


def test_a_leak_needs_no_confirmation_and_stops_the_calls_for_cleaning() -> None:
    bench = leaking()
    bench.wait(5000)
    assert [p.kind for p in due(bench.unit, bench.now)] == []


def test_the_leak_branch_ends_only_with_tag_and_owner() -> None:
    bench = leaking()
    bench.take_to("B2", "leak-tag")
    bench.wait(1)
    bench.checked_refusal("needs", "look", "B2", outcome="handed", owner="ann")
    bench.checked_refusal("needs-record", "look", "B2", outcome="handed", tag=True)
    event = bench.must("look", "B2", outcome="handed", tag=True, owner="repair desk")
    assert (event.data["ends"], event.data["owner"]) == ("out of service", "repair desk")
    given = {"case": "2", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
    bench.checked_refusal("out-of-service", "receive", "B2", **given)
    bench.checked_refusal("lead-only", "correct", "B2", by="tim", what="service", reason="r")
    bench.checked_refusal("fault-open", "correct", "B2", what="service", reason="repaired and tested")
    bench.must("return-checked", "B2", leak_test="pass", inspection="pass", report="R-1")
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.receive("B2")


def test_voiding_does_not_make_a_leak_unseen() -> None:
    bench = leaking()
    bench.checked_refusal("leaking", "void", "B2", reason="try again")
    bench.must("correct", "B2", what="leak", reason="loose cap")
    bench.wait(1)
    assert bench.must("void", "B2", reason="mixed up").data["ends"] == "voided"


def test_a_leak_is_no_choice_of_method_and_no_undo() -> None:
    bench = leaking()
    bench.checked_refusal("undo-unsafe", "undo", "B2")
    bench.wait(1)
    bench.checked_refusal("no-choice", "choose", "B2", way="machine")


def test_a_lead_corrects_a_misread_leak_back_to_the_leak_test() -> None:
    bench = leaking()
    bench.take_to("B2", "leak-decontaminate")
    bench.checked_refusal("lead-only", "correct", "B2", by="tim", what="leak", reason="r")
    bench.must("correct", "B2", what="leak", reason="bubbles came from the cap")
    assert bench.cycle("B2").step == "leak-test" and "leak" not in bench.cycle("B2").flags
    bench.wait(1)
    bench.checked_refusal("nothing-to-correct", "correct", "B2", what="leak", reason="r")
    bench.checked_refusal("needs", "look", "B2", outcome="tight")
    assert bench.whole_cycle("B2")[-1].data["ends"] == "completed"


def begin(bench: Bench, wait_s: float, tag: str = "B2", **values: Any) -> Event:
    """Receive, walk to the detergent bath, and begin cleaning `wait_s` after receipt."""
    bench.tap_s = 1
    received = bench.receive(tag, **values)
    bench.take_to(tag, "immerse")
    bench.pour("W9")
    passed = (bench.clock.true_ms - bench.unit.cycles[tag].opened.wall_ms) / 1000
    bench.wait(wait_s - passed)
    assert received.data["case"]
    return bench.must("look", tag, outcome="under", bath="W9", temp_c=30, under=True)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"precleaned": "no"}, "pre-clean at the bedside: no"),
        ({"precleaned": "unknown"}, "pre-clean at the bedside: unknown"),
        ({"procedure_end": None}, "end of the procedure unknown"),
    ],
)
def test_what_is_unknown_is_never_on_time(values: dict[str, Any], words: str) -> None:
    bench = Bench()
    received = bench.receive("B2", **values)
    assert received.data["notices"] == [f"delayed branch: {words}"]
    cycle = bench.cycle("B2")
    assert cycle.delayed and cycle.delay is None
    assert bench.take_to("B2", "extended-soak").delayed
    bench.go("B2")
    bench.wait(599)
    bench.checked_refusal("early-lift", "lift", "B2")
    bench.wait(1)
    bench.must("lift", "B2")
    assert bench.cycle("B2").step == "wipe-control" and bench.cycle("B2").delayed


def test_the_extended_soak_comes_once_and_cleaning_again_does_not_repeat_it() -> None:
    bench = Bench()
    bench.receive("B2", precleaned="no")
    bench.take_to("B2", "inspect")
    bench.wait(1)
    bench.must("look", "B2", outcome="debris")
    again = [e.data["step"] for e in bench.whole_cycle("B2") if "step" in e.data]
    assert "immerse" in again and "extended-soak" not in again


def test_the_delay_runs_to_the_start_of_cleaning_on_the_longest_time() -> None:
    bench = Bench()
    on_time = begin(bench, 3000)  # 10 min had passed at receipt
    assert (on_time.data["delay_s"], on_time.data["delayed"]) == (3600, False)
    assert bench.cycle("B2").delay is None  # settled: nothing calls for cleaning any more
    bench = Bench()
    bench.receive("B2")
    _ = bench.now
    bench.reboot(3300)
    bench.take_to("B2", "extended-soak")
    assert bench.cycle("B2").delayed


def test_setting_the_wall_clock_back_makes_no_scope_on_time() -> None:
    bench = Bench()
    bench.receive("B2")
    bench.clock.step(-3600)
    bench.wait(3100)
    bench.take_to("B2", "extended-soak")
    assert bench.cycle("B2").delayed


def test_times_later_than_now_or_out_of_order_are_refused() -> None:
    bench = Bench()
    given = {"case": "2", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
    bench.checked_refusal("future", "receive", "B2", **given, procedure_end="2026-11-25T08:00:01Z")
    bench.checked_refusal("future", "receive", "B2", **given, preclean_end="2026-11-25T09:30:00+01:00")
    bench.checked_refusal("future", "receive", "B2", **{**given, "procedure_date": "2026-11-26"})
    bench.checked_refusal(
        "order", "receive", "B2", **given,
        preclean_start="2026-11-25T07:30:00Z", preclean_end="2026-11-25T08:29:59+01:00",
    )  # fmt: skip


def test_without_a_maximum_a_lead_sets_one_before_the_extended_soak() -> None:
    bench = odd(in_step("extended", fig("soak_s_max", 3600), ""))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "extended")
    assert bench.state("X1") is State.WAITING
    start = {"bath": bench.detergent("X1"), "temp_c": 30}
    bench.wait(1)
    bench.checked_refusal("wait-lead", "start", "X1", **start)
    bench.checked_refusal("no-maximum", "decide", "X1", decision="continue", reason="IFU")
    bench.checked_refusal("soak-limits", "decide", "X1", decision="continue", reason="IFU", soak_s_max=599)
    bench.checked_refusal("not-reached", "decide", "X1", decision="disinfect-again", reason="quick")
    bench.must("decide", "X1", decision="continue", reason="IFU", soak_s_max=1200)
    assert bench.must("start", "X1", **start).data["soak"]["max_s"] == 1200
    bench.wait(1201)
    assert bench.must("lift", "X1").data["result"] == "late"


def test_an_extended_soak_with_a_time_over_its_minimum_waits_for_no_lead() -> None:
    bench = odd(in_step("extended", fig("soak_s_max", 3600), fig("over_s_max", 300)))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "extended")
    assert bench.cycle("X1").hold is None
    start = {"bath": bench.detergent("X1"), "temp_c": 30}
    assert bench.must("start", "X1", **start).data["soak"]["max_s"] == 900
    bench.wait(900)
    assert bench.must("lift", "X1").data["result"] == "full"


def test_an_extended_soak_further_on_can_have_its_maximum_set_too() -> None:
    soft = in_step("extended", fig("soak_s_max", 3600), "")
    soak = step_text("extended").replace(fig("soak_s_max", 3600), "")
    bench = odd(soft.replace(soak, "").replace(step_text("rinse"), soak + step_text("rinse")))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "extended")
    start = {"bath": bench.detergent("X1"), "temp_c": 30}
    bench.checked_refusal("no-maximum", "start", "X1", **start)
    bench.must("decide", "X1", decision="continue", reason="IFU", soak_s_max=1200)
    bench.must("start", "X1", **start)


def test_another_soak_before_the_extended_one_does_not_stand_for_it() -> None:
    extended = step_text("extended")
    plain = extended.replace('id = "extended"', 'id = "first-soak"').replace('when = "delayed"\n', "")
    bench = odd(GOOD.replace(extended, plain + extended))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "first-soak")
    bench.go("X1")
    assert bench.go("X1").data["flags"] == ["delayed", "soak"] and bench.cycle("X1").step == "extended"
    bench.go("X1")
    assert bench.go("X1").data["flags"] == ["soak"] and bench.cycle("X1").step == "brush"


def test_a_protocol_without_an_extended_soak_calls_the_lead_for_a_delayed_scope() -> None:
    bench = odd(without("extended"))
    bench.receive("X1", precleaned="no")
    bench.take_to("X1", "brush")
    hold = bench.cycle("X1").hold
    assert hold is not None and hold.kind == "no branch" and bench.state("X1") is State.WAITING
    bench.must("decide", "X1", decision="continue", reason="soaked by hand as the IFU says")
    assert bench.whole_cycle("X1")[-1].data["ends"] == "completed"
