"""A failing strip blocks its bath and holds every scope since, and including, the last use under a passing one."""

from __future__ import annotations

from driver import TODAY, Bench

from protocols.cycle import State
from protocols.unit import Unit

GIVEN = {"case": "9", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}


def fail(bench: Bench, scope: str = "L8", label: str = "H4") -> dict[str, str]:
    """Record a failing strip; gives how each scope is held."""
    bench.wait(1)
    event = bench.must("strip-test", label, scope=scope, result="fail", strip_lot="S")
    return {one["scope"]: one["as"] for one in event.data.get("holds", ())}


def held_in_storage(bench: Bench, tag: str = "B2") -> Unit:
    bench.whole_cycle(tag)
    assert fail(bench) == {tag: "stored"}
    return bench.unit


def test_only_what_lay_in_it_since_its_last_good_use_is_held() -> None:
    bench = Bench()
    for tag in ("B2", "B3", "G4"):
        bench.whole_cycle(tag)
    # B2 and B3 were out of the bath before the strip of G4 passed: that strip showed the bath still good.
    assert fail(bench) == {"G4": "stored"}
    assert [tag for tag, scope in bench.unit.scopes.items() if scope.hold] == ["G4"]


def test_scopes_that_shared_the_bath_are_held_together() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(60)
    for tag in ("B3", "G4"):
        bench.take_to(tag, "disinfectant-soak")
    bench.strip("B3")
    bench.strip("G4")
    bench.wait(1)
    bench.must("start", "B3", **bench.start_values("B3"))
    bench.wait(1)
    bench.must("start", "G4", **bench.start_values("G4"))
    bench.wait(800)
    bench.must("lift", "B3", temp_c=21)
    assert bench.cycle("B2").running  # longer than its limit by now, still in
    assert fail(bench) == {"B2": "soak", "B3": "cycle", "G4": "soak"}
    assert bench.cycle("B3").hold is not None and bench.state("B3") is State.RINSE  # chemicals must not dry on it
    bench.wait(1)
    bench.must("lift", "G4", temp_c=21)
    hold = bench.cycle("G4").hold
    assert hold is not None and hold.kind == "doubtful bath"


def test_a_later_use_takes_the_earlier_ones_out_of_doubt_whatever_strip_was_dipped_first() -> None:
    bench = Bench()
    for tag in ("B2", "B3"):
        bench.take_to(tag, "disinfectant-soak")
        bench.strip(tag, test=f"early-{tag}")
    bench.wait(1)
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(720)
    bench.must("lift", "B2", temp_c=21)
    bench.wait(600)
    bench.must("start", "B3", **bench.start_values("B3"), test="early-B3")
    # Both lay in it after the last strip that passed: nothing has shown since that B2's contact was good.
    assert fail(bench) == {"B2": "cycle", "B3": "soak"}


def test_a_strip_that_passed_but_covered_no_use_does_not_clear_the_last_use() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.take_to("B3", "disinfectant-soak")
    bench.strip("B3")
    bench.wait(60)
    assert fail(bench, "B3") == {"B2": "stored"}


def test_a_use_that_was_taken_back_or_counts_for_nothing_holds_nobody() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2)
    bench.must("undo", "B2")
    assert fail(bench) == {}
    bench = Bench()
    bench.whole_cycle("B3")
    bench.soaking("B2")
    bench.wait(60)
    bench.must("lift", "B2", reason="called away")  # contact begins again from zero
    assert fail(bench) == {}
    bench = Bench()
    bench.whole_cycle("B3")
    bench.soaking("B2")
    bench.wait(2)
    bench.must("undo", "B2")  # what that start had let go of comes back
    assert fail(bench) == {"B3": "stored"}


def test_a_scope_that_has_been_reprocessed_elsewhere_is_not_held() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    bench.whole_cycle("B2")
    bench.whole_cycle("B2", "H5")
    assert fail(bench) == {}
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("void", "B2", reason="wrong case")
    assert fail(bench) == {}


def test_a_held_scope_is_not_released_until_a_lead_keeps_it() -> None:
    bench = Bench()
    held_in_storage(bench)
    no = bench.checked_refusal("held", "release", "B2")
    assert "H4 failed a strip test" in no.why and "lead decides" in no.remedy
    bench.checked_refusal("lead-only", "decide", "B2", by="tim", decision="keep", reason="r")
    bench.checked_refusal("stored-decision", "decide", "B2", decision="clean-again", reason="r")
    event = bench.must("decide", "B2", decision="keep", reason="strip misread, repeated: passes")
    assert event.refs["cycle"] == bench.unit.scopes["B2"].last.cycle and event.refs["bath"]  # type: ignore[union-attr]
    bench.checked_refusal("no-cycle", "decide", "B2", decision="keep", reason="r")
    bench.must("release", "B2", by="tim")


def test_to_be_reprocessed_means_a_whole_new_cycle() -> None:
    bench = Bench()
    held_in_storage(bench)
    bench.must("decide", "B2", decision="reprocess", reason="weak bath")
    bench.checked_refusal("not-releasable", "release", "B2")
    bench.pour("H5", "opa-055-20c")
    bench.whole_cycle("B2", "H5")
    bench.must("release", "B2")


def test_out_of_service_needs_a_lead_to_come_back() -> None:
    bench = Bench()
    held_in_storage(bench)
    bench.must("decide", "B2", decision="out-of-service", reason="to be looked at")
    bench.checked_refusal("out-of-service", "receive", "B2", **GIVEN)
    bench.must("correct", "B2", what="service", reason="looked at")
    bench.receive("B2")


def test_a_held_scope_may_be_received_and_a_completed_cycle_resolves_the_hold() -> None:
    bench = Bench()
    held_in_storage(bench)
    bench.pour("H5", "opa-055-20c")
    event = bench.receive("B2")
    assert "held: H4 failed" in event.data["notices"][0]
    bench.wait(1)
    bench.must("void", "B2", reason="scanned by mistake")
    bench.checked_refusal("held", "release", "B2")  # a voided cycle resolves nothing
    events = bench.whole_cycle("B2", "H5")
    assert events[-1].data["resolves_hold"].startswith("H4 failed")
    bench.must("release", "B2")


def test_a_scope_already_in_its_next_cycle_stays_held_for_the_one_before() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    bench.whole_cycle("B2")
    bench.receive("B2")
    assert fail(bench) == {"B2": "stored"}
    bench.checked_refusal("not-waiting", "decide", "B2", decision="continue", reason="r")
    bench.whole_cycle("B2", "H5")
    bench.must("release", "B2")


def test_a_lead_decides_about_a_cycle_under_way() -> None:
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.wait(1)
    bench.must("start", "B2")
    assert fail(bench) == {"B2": "cycle"}
    assert bench.state("B2") is State.WAITING
    bench.checked_refusal("wait-lead", "check", "B2", dry=True)
    bench.checked_refusal("open-decision", "decide", "B2", decision="keep", reason="r")
    bench.must("decide", "B2", decision="disinfect-again", reason="weak bath")
    assert bench.cycle("B2").step == "disinfectant-soak" and not bench.cycle("B2").disinfected


def test_unproven_contact_stays_unproven_when_its_bath_fails_as_well() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.reboot(4000)
    bench.wait(1)
    bench.must("lift", "B2")
    assert fail(bench) == {}  # not disinfected: it must go through the soak again anyway
    bench.checked_refusal("unproven", "decide", "B2", decision="continue", reason="r")


def test_a_corrected_strip_frees_the_bath_but_a_lead_still_decides_each_scope() -> None:
    bench = Bench()
    held_in_storage(bench)
    bench.must("correct", "H4", what="strip", reason="read too late")
    bench.checked_refusal("held", "release", "B2")
    bench.whole_cycle("B3")
    assert fail(bench) == {"B3": "stored"}  # B2 was out before the strip of B3 passed


def test_a_failing_strip_of_a_discarded_bath_still_holds_its_last_scopes() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    bench.must("close-bath", "H4", reason="end of day")
    assert fail(bench) == {"B2": "stored"}
