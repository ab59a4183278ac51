"""A scope between its cycles: where it is, its hang time, its issue to a case, and the delay after the procedure.

Read: BSG-2020 item 3 ("decontaminated within the preceding 3 hours"). Second-hand: HHM-2021 and SUE-DELAY (an hour from
the end of the procedure), CSJ-2025 (first warning at 15 min, flagged after 60 min). The places, the last quarter of the
hang time and what a receipt takes over are our own.
"""

from __future__ import annotations

from typing import Any

import pytest
from driver import TODAY, Bench

from protocols.clock import wall_text
from protocols.event import Event
from protocols.whereabouts import Place, gone_s, hang_of_stored, place_of

HOUR, DAY = 3600, 86_400


def place(bench: Bench, tag: str = "B2") -> Place:
    return place_of(bench.unit, tag)


def ready(limits: str = "") -> Bench:
    """A bench whose B2 hangs after a whole cycle, released by ann."""
    bench = Bench()
    if limits:
        bench.must("choose-limits", limits, seen=True)
    bench.whole_cycle("B2")
    bench.must("release", "B2")
    return bench


def ago(bench: Bench, seconds: float) -> str:
    return wall_text(bench.clock.read().wall_ms - round(seconds * 1000), "UTC")


def test_a_scope_goes_from_waiting_through_its_cycle_into_storage_use_and_back() -> None:
    bench = Bench()
    assert place(bench) is Place.WAITING
    bench.checked_refusal("not-issuable", "issue-scope", "B2", case="7")
    bench.receive("B2")
    assert place(bench) is Place.IN_CYCLE
    bench.checked_refusal("in-cycle", "issue-scope", "B2", case="7")
    bench.whole_cycle("B2")
    assert place(bench) is Place.STORED
    bench.checked_refusal("not-released", "issue-scope", "B2", case="7")
    bench.must("release", "B2", by="tim")
    last = bench.unit.scopes["B2"].last
    assert last is not None
    bench.checked_refusal("cycle-differs", "issue-scope", "B2", case="7", cycle="hh1-000001")
    event = bench.must("issue-scope", "B2", case="7", cycle=last.cycle, location="room 2")
    assert event.refs == {"scope": "B2", "cycle": last.cycle, "case": "7"} and event.data["released_by"] == "tim"
    assert place(bench) is Place.IN_USE
    bench.checked_refusal("not-issuable", "issue-scope", "B2", case="8")
    bench.checked_refusal("released", "release", "B2")
    bench.wait(1800)
    bench.must("procedure-ended", "B2", by="tim", procedure_end=ago(bench, 300))
    assert place(bench) is Place.WAITING
    bench.receive("B2", case="7")
    assert place(bench) is Place.IN_CYCLE
    bench.whole_cycle("B2")
    assert place(bench) is Place.STORED and bench.unit.scopes["B2"].used is None
    bench.checked_refusal("not-released", "issue-scope", "B2", case="9")
    assert bench.replayed() == bench.unit


def test_who_issues_must_be_on_the_list_and_nothing_unconfirmed_goes_out() -> None:
    bench = ready()
    bench.checked_refusal("not-signed-in", "issue-scope", "B2", by="unconfirmed", case="7")
    bench.checked_refusal("unknown-person", "issue-scope", "B2", by="eve", case="7")
    bench.must("set-unit", "unit", case_pattern="99-9999")
    bench.checked_refusal("case-form", "issue-scope", "B2", case="a name")
    bench.must("issue-scope", "B2", by="tim", case="26-0001")


def test_within_the_hang_time_it_is_ready_and_past_it_nobody_can_issue_it() -> None:
    # Check 36, BSG-2020: ready at +2:59:59, due at +3:00:01; on the limit itself it is within "the preceding 3 hours".
    bench = ready("storage-uk-3h")
    scope = bench.unit.scopes["B2"]
    assert scope.last is not None and scope.last.dried is not None
    bench.wait(3 * HOUR - 1 - (bench.now.longest_ms - scope.last.dried.longest_ms) / 1000)
    before = bench.unit
    for more, state in ((0, "due soon"), (1, "due soon"), (2, "due")):
        bench.unit = before
        bench.wait(min(more, 1))
        assert hang_of_stored(bench.unit, scope, bench.now).state == state
        if state == "due":
            refusal = bench.checked_refusal("hang-over", "issue-scope", "B2", case="7")
            assert "reprocess it" in refusal.remedy
        else:
            bench.must("issue-scope", "B2", case="7")


def test_hang_time_counts_from_the_end_of_drying_and_is_due_soon_in_its_last_quarter() -> None:
    bench = ready("storage-7d")
    last = bench.unit.scopes["B2"].last
    assert last is not None and last.dried is not None and last.ended != last.dried
    hang = hang_of_stored(bench.unit, bench.unit.scopes["B2"], bench.now)
    dried = next(e for e in reversed(bench.events) if "dried" in e.data.get("moments", ()))
    assert hang.left_s is not None
    assert 7 * DAY - hang.left_s == (bench.clock.read().elapsed_ms - dried.elapsed) / 1000 and hang.state == "ready"
    bench.wait(hang.left_s - DAY - 1)
    assert hang_of_stored(bench.unit, bench.unit.scopes["B2"], bench.now).state == "ready"
    bench.wait(1)
    assert hang_of_stored(bench.unit, bench.unit.scopes["B2"], bench.now).state == "due soon"


def test_a_gap_that_no_clock_saw_counts_fully_towards_the_hang_time() -> None:
    bench = ready("storage-uk-3h")
    bench.clock.step(-2 * DAY)
    bench.reboot(60)
    assert hang_of_stored(bench.unit, bench.unit.scopes["B2"], bench.now).state == "due"
    bench.checked_refusal("hang-over", "issue-scope", "B2", case="7")


def test_a_stricter_limit_chosen_later_holds_and_a_laxer_one_lengthens_nothing() -> None:
    bench = ready("storage-uk-3h")
    bench.must("choose-limits", "storage-7d", seen=True)
    bench.wait(3 * HOUR)
    bench.checked_refusal("hang-over", "issue-scope", "B2", case="7")
    later = ready("storage-7d")
    later.must("choose-limits", "storage-uk-3h", seen=True)
    later.wait(3 * HOUR)
    later.checked_refusal("hang-over", "issue-scope", "B2", case="7")


def test_past_its_hang_time_a_scope_is_reprocessed_without_a_case() -> None:
    bench = ready("storage-uk-3h")
    bench.wait(4 * HOUR)
    bench.checked_refusal("again-case", "receive", "B2", again="storage", case="7")
    event = bench.must("receive", "B2", by="tim", again="storage")
    assert event.data["flags"] == ["soak"] and not event.data["marks"]["delayed"] and "delay" not in event.data
    bench.whole_cycle("B2")
    bench.must("release", "B2")
    bench.must("issue-scope", "B2", case="7")


def test_a_receipt_without_again_still_needs_all_it_needed() -> None:
    bench = Bench()
    refusal = bench.checked_refusal("needs-receipt", "receive", "B2", case="7")
    assert refusal.why.endswith("procedure_date, procedure_type, precleaned")


def test_the_delay_runs_from_the_end_of_the_procedure_until_the_scope_comes_in() -> None:
    # Checks 25 and 27: 60:00 not flagged, 60:01 flagged (HHM-2021); a first warning at 15 min (CSJ-2025).
    bench = ready("delay-australia")
    bench.must("issue-scope", "B2", case="7")
    event = bench.must("procedure-ended", "B2", procedure_end=ago(bench, 600))
    assert (event.data["delay"]["max_s"], event.data["delay"]["warn_s"]) == (HOUR, 900)
    bench.wait(HOUR - 600 - 2)
    assert gone_s(bench.unit.scopes["B2"], bench.now) == HOUR - 2
    told = {"case": "7", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
    received = bench.must("receive", "B2", **told)
    assert received.data["procedure_end"] == event.data["procedure_end"]
    assert received.data["delay"]["already_s"] == HOUR - 2
    bench.take_to("B2", "immerse")
    assert gone_s(bench.unit.scopes["B2"], bench.now) is not None
    assert bench.cycle("B2").delay is not None


def test_the_earlier_end_of_the_procedure_holds_and_a_clock_set_back_shortens_no_delay() -> None:
    bench = ready("delay-procedure-end")
    bench.must("issue-scope", "B2", case="7")
    first = ago(bench, 600)
    bench.must("procedure-ended", "B2", procedure_end=first)
    bench.wait(1200)
    bench.clock.step(-900)
    told: dict[str, Any] = {"case": "7", "procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
    event = bench.must("receive", "B2", procedure_end=ago(bench, 60), **told)
    assert event.data["procedure_end"] == first and event.data["delay"]["already_s"] == 1800
    assert any("earlier time holds" in notice for notice in event.data["notices"])


def test_a_procedure_may_be_told_of_a_scope_that_nobody_issued() -> None:
    bench = ready()
    bench.checked_refusal("needs-case", "procedure-ended", "B2", procedure_end=ago(bench, 60))
    bench.checked_refusal("future", "procedure-ended", "B2", case="7", procedure_end=ago(bench, -60))
    event = bench.must("procedure-ended", "B2", case="7", procedure_end=ago(bench, 60))
    assert not event.data["issued"] and "not issued" in event.data["notices"][0]
    assert place(bench) is Place.WAITING
    bench.checked_refusal("procedure-known", "procedure-ended", "B2", case="7", procedure_end=ago(bench, 60))
    bench.checked_refusal("not-issuable", "issue-scope", "B2", case="8")
    bench.checked_refusal("not-releasable", "release", "B3")
    bench.checked_refusal("again-used", "receive", "B2", again="other")
    given = {"procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes"}
    bench.checked_refusal("case-differs", "receive", "B2", case="8", **given)
    bench.must("receive", "B2", case="7", **given)


def test_a_lead_takes_back_an_issue_of_the_wrong_scope() -> None:
    bench = ready()
    bench.must("issue-scope", "B2", case="7")
    bench.checked_refusal("lead-only", "correct", "B2", by="tim", what="issue", reason="wrong tag scanned")
    bench.must("correct", "B2", what="issue", reason="wrong tag scanned")
    assert place(bench) is Place.STORED
    bench.checked_refusal("nothing-to-correct", "correct", "B2", what="issue", reason="r")


def test_a_receipt_taken_back_leaves_the_delay_running() -> None:
    bench = ready()
    bench.must("issue-scope", "B2", case="7")
    bench.must("procedure-ended", "B2", procedure_end=ago(bench, 60))
    bench.receive("B2", case="7")
    bench.wait(2)
    bench.must("undo", "B2")
    assert place(bench) is Place.WAITING and gone_s(bench.unit.scopes["B2"], bench.now) is not None


def test_a_voided_cycle_leaves_the_scope_waiting_with_its_case() -> None:
    bench = ready()
    bench.must("issue-scope", "B2", case="7")
    bench.receive("B2", case="7")
    bench.wait(2)
    bench.must("void", "B2", reason="mixed up")
    assert place(bench) is Place.WAITING
    bench.checked_refusal("again-used", "receive", "B2", again="other")


@pytest.mark.parametrize("how", ["held", "voided", "fault"])
def test_what_is_held_voided_or_in_quarantine_is_not_issued_though_it_was_released(how: str) -> None:
    bench = ready()
    if how == "held":
        bench.strip("B3", result="fail")
    elif how == "voided":
        bench.must("void", "B2", reason="mixed up")
    else:
        bench.must("report-fault", "B2", kind="damage", text="light guide cracked")
    answer = bench.checked_refusal("not-issuable", "issue-scope", "B2", case="7")
    assert ("waiting" if how == "voided" else "held") in answer.why
    assert place(bench) is (Place.WAITING if how == "voided" else Place.HELD)


def test_loan_dates_stand_in_the_register_in_order() -> None:
    bench = Bench()
    given = {"protocol": "gastroscope", "loaned_from": "2026-12-01"}
    bench.checked_refusal("date-order", "add-scope", "L9", loaned_until="2026-11-30", **given)
    event = bench.must("add-scope", "L9", loaned_until="2026-12-31", channels="air/water, suction", **given)
    scope = bench.unit.scopes["L9"]
    assert isinstance(event, Event) and scope.loaner and scope.loaned_until == "2026-12-31" and scope.channels
