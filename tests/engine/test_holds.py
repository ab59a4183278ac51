"""What a lead decides, voids and returns; out of service; release by a named person."""

from __future__ import annotations

import pytest
from driver import TODAY, Bench
from load_cases import GOOD, added, step_text
from odd_protocols import odd

from protocols.cycle import State

GIVEN = {"case": "2", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}


def late() -> Bench:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    bench.wait(1)
    return bench


@pytest.mark.parametrize(
    ("decision", "step"),
    [("clean-again", "immerse"), ("disinfect-again", "disinfectant-soak"), ("continue", "final-rinse")],
)
def test_a_lead_decides_what_follows_a_late_lift(decision: str, step: str) -> None:
    bench = late()
    event = bench.must("decide", "B2", decision=decision, reason="by the IFU")
    assert event.data["held"] == "late lift" and bench.cycle("B2").step == step
    assert bench.cycle("B2").hold is None and bench.cycle("B2").disinfected is (decision == "continue")
    bench.wait(1)
    bench.checked_refusal("not-waiting", "decide", "B2", decision="continue", reason="r")
    lifts = [e for e in bench.whole_cycle("B2") if e.kind == "lift" and e.data["step"] == "disinfectant-soak"]
    assert len(lifts) == (0 if decision == "continue" else 1)
    last = bench.unit.scopes["B2"].last
    assert last is not None and last.outcome == "completed"


def test_a_lead_may_take_it_out_of_service() -> None:
    bench = late()
    bench.must("decide", "B2", decision="out-of-service", reason="by the IFU")
    bench.checked_refusal("out-of-service", "receive", "B2", **GIVEN)


def test_no_decision_leads_past_cleaning() -> None:
    bench = Bench()
    bench.receive("B2", precleaned="no")
    bench.take_to("B2", "extended-soak")
    bench.go("B2")
    bench.wait(40_000)
    bench.must("lift", "B2")
    assert bench.state("B2") is State.WAITING
    no = bench.checked_refusal("not-reached", "decide", "B2", decision="disinfect-again", reason="r")
    assert "disinfectant-soak" in no.why
    bench.must("decide", "B2", decision="clean-again", reason="r")
    assert bench.cycle("B2").step == "immerse"


def test_void_ends_an_open_cycle_and_nothing_of_it_serves_another() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    used = next(b.label for b in bench.unit.baths.values() if b.kind == "detergent")
    bench.checked_refusal("lead-only", "void", "B2", by="tim", reason="r")
    assert bench.must("void", "B2", reason="wrong scope scanned").data["ends"] == "voided"
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.take_to("B2", "immerse")
    bench.wait(1)
    bench.checked_refusal("bath-used", "look", "B2", outcome="under", bath=used, temp_c=30, under=True)
    bench.take_to("B2", "disinfectant-soak")
    bench.checked_refusal("no-strip", "start", "B2", **bench.start_values("B2"))


def test_void_amends_an_ended_cycle_once_and_takes_its_release_back() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("release", "B2", by="tim", place="room 2")
    bench.must("void", "B2", reason="wrong case")
    last = bench.unit.scopes["B2"].last
    assert last is not None and (last.outcome, last.released_by) == ("voided", "")
    bench.checked_refusal("no-cycle", "void", "B2", reason="r")
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.checked_refusal("no-cycle", "void", "G4", reason="r")


def test_out_of_service_at_any_time_and_back_by_a_lead() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(100)
    bench.must("out-of-service", "B2", by="tim", reason="light guide cracked", owner="biomed desk")
    assert "B2" not in bench.unit.cycles
    bench.checked_refusal("nothing-to-correct", "correct", "B3", what="service", reason="r")
    bench.must("correct", "B2", what="service", reason="repaired")
    bench.checked_refusal("nothing-to-correct", "correct", "B2", what="service", reason="r")
    bench.receive("B2")


def test_release_is_by_a_named_person_once_and_within_the_hang_time() -> None:
    bench = Bench()
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.whole_cycle("B2")
    bench.checked_refusal("unknown-person", "release", "B2", by="nobody")
    bench.wait(7 * 86_400 - 1)  # the last tap, storage, came 1 s after the end of drying
    event = bench.must("release", "B2", by="tim")
    assert event.data["hung_s"] == 7 * 86_400
    bench.checked_refusal("released", "release", "B2")


def test_hang_time_ends_on_the_longest_time() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.wait(7 * 86_400)
    no = bench.checked_refusal("not-releasable", "release", "B2")
    assert "reprocess" in no.why
    bench = Bench()
    bench.whole_cycle("B2")
    bench.clock.step(-86_400)
    bench.reboot(60)
    bench.checked_refusal("not-releasable", "release", "B2")  # no clock can say how long it hung


def test_no_cycle_ends_as_completed_without_disinfection_and_drying() -> None:
    # A protocol may send a scope back behind its drying; what comes after counts no more.
    store = step_text("store")
    wet = GOOD.replace(
        store, store.replace('{ hung = "next" }', '{ hung = "next", wet = "back:air", dirty = "back:immerse" }')
    )
    bench = odd(wet)
    bench.take_to("X1", "store")
    bench.wait(1)
    bench.must("look", "X1", outcome="wet")
    assert bench.cycle("X1").step == "air" and bench.cycle("X1").disinfected and bench.cycle("X1").dried is None
    bench.take_to("X1", "store")
    bench.wait(1)
    bench.must("look", "X1", outcome="dirty")
    assert not bench.cycle("X1").disinfected
    assert [e.kind for e in bench.whole_cycle("X1")].count("lift") == 1


def test_the_last_guard_holds_even_when_the_state_is_wrong() -> None:
    bench = odd(added("store", ""))
    bench.take_to("X1", "store")
    bench.wait(1)
    good = bench.unit
    undone = {"it was not disinfected": {"disinfected": False}, "it was not dried": {"dried": None}}
    for what, change in undone.items():
        bench.unit = good._replace(cycles={"X1": bench.cycle("X1")._replace(**change)})
        assert what in bench.checked_refusal("unfinished", "look", "X1", outcome="hung").why
        bench.unit = good
