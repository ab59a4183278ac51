"""A scope's faults: quarantine, decontamination before repair, away, and the checks that must pass on return.

HICPAC-AUD and BB-CLEAN (second-hand): a failed leak test takes the scope out of service. The way back, leak test,
inspection and a whole cycle before it is issued, is common practice, no source.
"""

from __future__ import annotations

import pytest
from driver import TODAY, Bench

from protocols.whereabouts import Place, place_of

GIVEN = {"case": "2", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
PASSED = {"leak_test": "pass", "inspection": "pass"}


def place(bench: Bench) -> Place:
    return place_of(bench.unit, "B2")


def leaked() -> Bench:
    bench = Bench()
    bench.take_to("B2", "leak-test")
    bench.wait(1)
    step = bench.step("B2")
    assert step is not None
    bench.must("look", "B2", outcome="leak")
    bench.whole_cycle("B2")
    return bench


def test_a_leak_leads_through_decontamination_repair_checks_and_a_whole_cycle_back_into_use() -> None:
    bench = leaked()
    fault = bench.unit.scopes["B2"].fault
    assert fault is not None and (fault.kind, fault.why) == ("leak", "leak test failed")
    assert place(bench) is Place.OUT_OF_SERVICE
    bench.checked_refusal("not-decontaminated", "send-for-repair", "B2", to="maker")
    bench.must("decontaminate", "B2", by="tim", how="wiped with disinfectant, not immersed")
    event = bench.must("send-for-repair", "B2", by="tim", to="maker", reference="D-17")
    assert event.data["decontaminated"].startswith("wiped") and place(bench) is Place.AWAY
    for do, values in (
        ("receive", GIVEN), ("procedure-ended", {"case": "2", "procedure_end": f"{TODAY}T07:00:00+00:00"}),
        ("send-for-repair", {"to": "m"}), ("decontaminate", {"how": "h"}),
        ("report-fault", {"kind": "leak", "text": "t"}),
    ):  # fmt: skip
        key = "out-of-service" if do == "receive" else "away"
        bench.checked_refusal(key, do, "B2", **values)
    bench.checked_refusal("not-issuable", "issue-scope", "B2", case="2")
    bench.checked_refusal("lead-only", "return-checked", "B2", by="tim", **PASSED)
    bench.checked_refusal("needs-leak-test", "return-checked", "B2", leak_test="none", inspection="pass")
    bench.must("return-checked", "B2", report="R-5", **PASSED)
    assert place(bench) is Place.WAITING and bench.unit.scopes["B2"].fault is not None
    no = bench.checked_refusal("not-releasable", "release", "B2")
    assert no.why == "B2 can't be released: its last cycle is returned from repair"
    bench.must("receive", "B2", again="repair")
    events = bench.whole_cycle("B2")
    assert events[-1].data["resolves_fault"] == "leak test failed" and bench.unit.scopes["B2"].fault is None
    bench.must("release", "B2")
    bench.must("issue-scope", "B2", case="3")
    assert bench.replayed() == bench.unit


@pytest.mark.parametrize("failing", ["leak_test", "inspection"])
def test_a_check_that_fails_on_return_keeps_it_in_quarantine(failing: str) -> None:
    bench = leaked()
    bench.must("decontaminate", "B2", how="wiped")
    bench.must("send-for-repair", "B2", to="maker")
    event = bench.must("return-checked", "B2", **{**PASSED, failing: "fail"})
    assert not event.data["passed"] and place(bench) is Place.OUT_OF_SERVICE
    bench.checked_refusal("not-decontaminated", "send-for-repair", "B2", to="maker")


def test_contamination_found_again_needs_a_culture_before_it_comes_back() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("report-fault", "B2", by="tim", kind="contamination", text="growth again, C-12")
    bench.must("report-fault", "B2", kind="damage", text="scratch at the tip")
    fault = bench.unit.scopes["B2"].fault
    assert fault is not None and fault.kind == "contamination" and fault.why.endswith("scratch at the tip")
    bench.checked_refusal("needs-culture", "return-checked", "B2", **PASSED)
    bench.must("return-checked", "B2", culture="C-14", **PASSED)
    assert place(bench) is Place.WAITING


def test_a_fault_during_a_cycle_lets_the_cycle_go_on_and_holds_the_scope_at_its_end() -> None:
    bench = Bench()
    bench.take_to("B2", "final-rinse")
    bench.wait(1)
    bench.must("report-fault", "B2", by="tim", kind="damage", text="buckled")
    bench.whole_cycle("B2")
    last = bench.unit.scopes["B2"].last
    assert last is not None and last.outcome == "completed" and place(bench) is Place.HELD
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.must("receive", "B2", **GIVEN)
    bench.whole_cycle("B2")
    assert place(bench) is Place.HELD, "no cycle ends a quarantine by itself"


def test_a_leaking_scope_goes_into_no_liquid_before_its_checks_have_passed() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("report-fault", "B2", kind="leak", text="bubbles at the distal end")
    bench.checked_refusal("fault-open", "receive", "B2", again="other")


def test_out_of_service_for_another_reason_is_still_returned_by_a_lead_alone() -> None:
    bench = Bench()
    bench.receive("B2")
    bench.must("out-of-service", "B2", reason="light guide cracked", owner="biomed desk")
    fault = bench.unit.scopes["B2"].fault
    assert fault is not None and (fault.kind, fault.owner) == ("other", "biomed desk")
    bench.must("correct", "B2", what="service", reason="looked at")
    assert bench.unit.scopes["B2"].fault is None and place(bench) is Place.WAITING
    bench.checked_refusal("no-fault", "decontaminate", "B2", how="h")
