"""Bottles of test strips, the control of a lot, and which strips cover a soak.

HICPAC-AUD is the HICPAC sample audit tool (read); GIE-HLD a society's table of guidelines and AUDIT1 an audit form
(both at second hand).
"""

from __future__ import annotations

from typing import Any

import pytest
from driver import TODAY, Bench

DAY = 86_400
STRIP = {"scope": "B2", "result": "pass"}


def ready(**bottle: Any) -> Bench:
    """A bench with B2 before its disinfectant soak and the bottle S9, controlled unless said otherwise."""
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.bottle("S9", **bottle)
    return bench


def test_only_a_registered_bottle_covers_a_soak_unless_the_unit_says_otherwise() -> None:
    bench = ready()
    no = bench.checked_refusal("unknown-strips", "strip-test", "H4", **STRIP, strip_lot="X1")
    assert "register the bottle first" in no.remedy and "S9" in no.remedy
    bench.must("set-unit", "unit", strip_register=False)
    assert bench.must("strip-test", "H4", **STRIP, strip_lot="X1").data["strip_lot"] == "X1"
    bench.must("close-strips", "S9", reason="empty")
    bench.wait(1)
    bench.checked_refusal("strips-closed", "strip-test", "H4", **STRIP, strip_lot="S9")  # known, so held to its facts


def test_a_new_lot_needs_three_right_strips_of_each_kind() -> None:
    # AUDIT1: "(3 positive and 3 negative strips)".
    bench = ready(controlled=False, lot="L-7")
    bench.checked_refusal("strips-uncontrolled", "strip-test", "H4", **STRIP, strip_lot="S9")
    for positive, negative in ((3, 2), (2, 3), (0, 3), (50, 0)):
        bench.checked_refusal("control-few", "strip-control", "S9", positive=positive, negative=negative)
    bench.must("strip-control", "S9", positive=3, negative=3)
    bench.must("strip-test", "H4", **STRIP, strip_lot="S9")
    # a second bottle of the lot is covered by the control, a bottle of another lot or kind is not
    bench.bottle("S10", controlled=False, lot="L-7")
    bench.bottle("S11", controlled=False, lot="L-8")
    bench.bottle("S12", "glutaraldehyde 1.5 %", controlled=False, lot="L-7")
    assert [bench.unit.strips[s].controlled for s in ("S10", "S11", "S12")] == [True, False, False]


def test_a_scan_that_is_unread_or_says_otherwise_registers_nothing() -> None:
    # AI 01 GTIN, 17 expiry, 10 lot: GS1 General Specifications; the GTIN is invented, its check digit right or wrong.
    bench = Bench()
    given = {"type": "OPA 0.3 %", "opened": TODAY}
    bench.checked_refusal("label-unread", "register-strips", "S9", **given, scan="(01)09506000134351(17)280630(10)L7")
    scan = "(01)09506000134352(17)280630(10)L7"
    bench.checked_refusal("label-contradicts", "register-strips", "S9", **given, scan=scan, lot="L8")
    bench.must("register-strips", "S9", **given, scan=scan)
    assert (bench.unit.strips["S9"].lot, bench.unit.strips["S9"].expires) == ("L7", "2028-06-30")


def test_a_lot_that_was_never_controlled_leaves_nothing_in_doubt() -> None:
    bench = ready(controlled=False, lot="L-7")
    event = bench.must("strip-control", "S9", positive=3, negative=2, wrong=1)
    assert event.data["result"] == "fail" and "notices" not in event.data


def test_one_wrong_strip_discards_the_bottle_and_takes_the_control_back() -> None:
    bench = ready(lot="L-7")
    bench.bottle("S10", controlled=False, lot="L-7")
    event = bench.must("strip-control", "S9", positive=3, negative=2, wrong=1)
    assert event.data["result"] == "fail" and "trace --lot L-7" in event.data["notices"][0]
    bench.checked_refusal("strips-closed", "strip-control", "S9", positive=3, negative=3)
    bench.checked_refusal("strips-uncontrolled", "strip-test", "H4", **STRIP, strip_lot="S10")


def test_a_bottle_ends_with_its_printed_expiry_or_its_opened_life() -> None:
    # HICPAC-AUD and GIE-HLD: strips in date, checked before each use.
    bench = Bench()
    bench.checked_refusal(
        "strips-expired", "register-strips", "S9", type="OPA 0.3 %", opened=TODAY, expires="2026-11-24"
    )
    bench.checked_refusal(
        "future", "register-strips", "S9", type="OPA 0.3 %", opened="2026-11-26", expires="2027-11-26"
    )
    bench.checked_refusal("needs-label", "register-strips", "S9", type="OPA 0.3 %", opened=TODAY)
    bench.bottle("S9", expires="2026-11-27")
    bench.bottle("S10", opened_d=1)
    bench.wait(DAY)
    bench.pour("H5", "opa-055-20c")
    bench.take_to("B2", "disinfectant-soak", "H5")
    bench.must("strip-test", "H5", **STRIP, strip_lot="S10")  # day 1 of 1: our convention, as for baths
    bench.clock.step(-DAY)
    bench.wait(DAY)  # the wall clock says the same day; two have passed
    no = bench.checked_refusal("strips-expired", "strip-test", "H5", **STRIP, strip_lot="S10")
    assert "the life of the open bottle" in no.why
    bench.must("strip-test", "H5", **STRIP, strip_lot="S9")
    bench.wait(DAY)
    no = bench.checked_refusal("strips-expired", "strip-test", "H5", **STRIP, strip_lot="S9")
    assert "the printed expiry ended on 2026-11-27" in no.why
    bench.checked_refusal("strips-expired", "strip-control", "S9", positive=3, negative=3)


def test_strips_of_another_kind_do_not_vouch_for_a_bath() -> None:
    bench = ready(type="glutaraldehyde 1.5 %")
    no = bench.checked_refusal("strip-kind", "strip-test", "H4", **STRIP, strip_lot="S9")
    assert "OPA 0.3 %" in no.why
    bench.bottle("S10", "opa  0.3%")
    bench.must("strip-test", "H4", **STRIP, strip_lot="S10")
    bench.checked_refusal("strips-known", "register-strips", "S10", type="x", opened=TODAY, expires="2027-01-01")


@pytest.mark.parametrize(
    ("after_s", "result"), [(59, "void"), (60, "pass"), (75, "pass"), (90, "pass"), (90.5, "void"), (600, "void")]
)
def test_a_strip_read_outside_its_window_is_void_and_covers_nothing(after_s: float, result: str) -> None:
    # The window itself is the label's; these figures are invented.
    bench = ready(read_s_from=60, read_s_to=90)
    bench.checked_refusal("needs-read-time", "strip-test", "H4", **STRIP, strip_lot="S9")
    event = bench.must("strip-test", "H4", **STRIP, strip_lot="S9", read_after_s=after_s)
    assert event.data["result"] == result
    bench.wait(1)
    before = bench.unit
    topped = bench.must("top-up", "H4", lot="C-9", expires="2029-01-01", opened=TODAY)
    assert ("notices" in topped.data) == (result == "pass")  # only what counted is lost to the topping up
    bench.unit = before
    if result == "void":
        bench.checked_refusal("strip-void", "start", "B2", **bench.start_values("B2"))
        bench.must("strip-test", "H4", **STRIP, strip_lot="S9", read_after_s=60)
        bench.wait(1)
    bench.must("start", "B2", **bench.start_values("B2"))


def test_a_failing_strip_counts_whatever_its_bottle_or_its_time() -> None:
    bench = ready(read_s_from=60, read_s_to=90)
    bench.must("strip-test", "H4", scope="B2", result="fail", strip_lot="never-seen", read_after_s=500)
    bench.checked_refusal("bath-failed", "strip-test", "H4", **STRIP, strip_lot="S9", read_after_s=60)


def test_a_window_of_one_end_or_turned_round() -> None:
    bench = ready(read_s_to=90)
    bench.checked_refusal("needs-read-time", "strip-test", "H4", **STRIP, strip_lot="S9")
    bench.bottle("S8", read_s_from=60)
    bench.checked_refusal("needs-read-time", "strip-test", "H4", **STRIP, strip_lot="S8")
    event = bench.must("strip-test", "H4", **STRIP, strip_lot="S8", read_after_s=59)
    assert event.data["result"] == "void" and "60 s and later" in event.data["notices"][0]
    bench.wait(1)
    event = bench.must("strip-test", "H4", **STRIP, strip_lot="S9", read_after_s=91)
    assert event.data["result"] == "void" and "0 to 90 s" in event.data["notices"][0]
    bench.wait(1)
    assert bench.must("strip-test", "H4", **STRIP, strip_lot="S9", read_after_s=0).data["result"] == "pass"
    given = {"type": "t", "opened": TODAY, "expires": "2027-01-01", "read_s_from": 90, "read_s_to": 60}
    bench.checked_refusal("window-order", "register-strips", "S10", **given)
    bench.must("register-strips", "S10", **{**given, "read_s_to": 90})
    bench.checked_refusal("unknown-strips", "close-strips", "S11", reason="r")


def test_what_the_record_keeps_of_a_strip() -> None:
    bench = ready(lot="L-7", opened_d=90)
    data = bench.must("strip-test", "H4", **STRIP, strip_lot="S9").data
    kept = {"strips": "S9", "strip_lot": "L-7", "strip_type": "OPA 0.3 %", "strip_expires": "2030-06-30",
            "strip_opened": TODAY, "strip_opened_d_max": 90}  # fmt: skip
    assert {name: data[name] for name in kept} == kept


def test_a_discarded_bottle_makes_room_for_another_of_its_name_and_is_used_no_more() -> None:
    bench = Bench()
    bench.checked_refusal("strips-known", "register-strips", "S", type="OPA 0.3 %", opened=TODAY, expires="2028-06-30")
    closed = bench.must("close-strips", "S", reason="moist")
    assert closed.data["reason"] == "moist"
    bench.checked_refusal("strips-closed", "close-strips", "S", reason="again")
    bench.must("register-strips", "S", type="OPA 0.3 %", lot="L-9", opened=TODAY, expires="2028-06-30")
    held = bench.unit.strips["S"]
    assert (held.lot, held.controlled, held.closed) == ("L-9", False, "")
    event = bench.must("register-strips", "S8", type="OPA 0.3 %", opened=TODAY, expires="2028-06-30", read_s_from=30)
    assert event.refs["lot"] == "S8"  # a bottle without a lot is its own
    assert (bench.unit.strips["S8"].read_s_min, bench.unit.strips["S8"].read_s_max) == (30, None)
