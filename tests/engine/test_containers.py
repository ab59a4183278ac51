"""Containers, pouring from them, topping up: every date is taken over and none is ever made longer.

LBL3 is a maker's guide (read); AUDIT1 an audit form and GIE-HLD a society's table of guidelines (second-hand).
"""

from __future__ import annotations

from typing import Any

import pytest
from driver import TODAY, Bench

from protocols import bath as baths
from protocols.labels import SEPARATOR
from protocols.reasons import kept

OPA: dict[str, Any] = {
    "kind": "disinfectant", "claim": "opa-055-20c", "lot": "C-1", "expires": "2027-06-30", "opened": "2026-11-01",
}  # fmt: skip
GLUT = {**OPA, "claim": "glut-2-label-25c", "lot": "G-1"}
DAY = 86_400


def last_day(bench: Bench, label: str) -> tuple[str, str]:
    found = baths.last_day(bench.bath(label), "UTC")
    assert found is not None
    return found[0].isoformat(), found[1]


def test_a_bath_takes_over_what_its_container_says() -> None:
    bench = Bench()
    container = bench.must("register-container", "K1", **OPA)
    assert container.refs["lot"] == "C-1" and bench.unit.containers["K1"].title == "OPA 0.55 %, manual, 20 °C"
    event = bench.must("pour-bath", "H5", by="tim", container="K1")
    bath = bench.bath("H5")
    assert (bath.lot, bath.expires, bath.opened, bath.container) == ("C-1", "2027-06-30", "2026-11-01", container.id)
    assert event.refs == {"lot": "C-1", "container": container.id} and bath.poured_by == "tim"
    bench.must("close-container", "K1", reason="empty")
    bench.checked_refusal("unknown-container", "pour-bath", "H6", container="K1")
    assert baths.unusable(bench.bath("H5"), bench.unit, bench.now) is None


def test_what_contradicts_the_container_is_refused() -> None:
    bench = Bench()
    bench.must("register-container", "K1", **OPA)
    bench.must("register-container", "K2", kind="detergent", lot="D-1", expires="2027-06-30", opened=TODAY)
    for given in ({"lot": "C-2"}, {"claim": "opa-0575-20c"}, {"kind": "detergent"}, {"expires": "2028-01-01"}):
        bench.checked_refusal("container-differs", "pour-bath", "H5", container="K1", **given)
    bench.must("pour-bath", "H5", container="K1", **OPA)  # the same once more is no contradiction
    assert bench.must("pour-bath", "W9", container="K2").data["bath"]["title"] == "detergent"
    bench.checked_refusal("container-known", "register-container", "K1", **OPA)
    bench.checked_refusal("needs-label", "pour-bath", "H6", kind="disinfectant", claim="opa-055-20c", lot="C-1")
    bench.checked_refusal("needs-label", "register-container", "K3", kind="disinfectant", lot="C-1")
    for claim, key in (("soup", "unknown-claim"), ("glut-34-25c", "not-enabled"), ("paa-02-sterilant", "not-manual"),
                       ("clo2-320-ppm-foam", "unsuitable")):  # fmt: skip
        bench.checked_refusal(key, "register-container", "K3", **{**OPA, "claim": claim})


def test_the_open_container_limits_its_baths_and_is_not_poured_past_its_life() -> None:
    # LBL3: "the bottle can be stored up to 75 days", besides the 14 days of the bath; the earliest date wins.
    bench = Bench()
    bench.must("register-container", "K1", **{**OPA, "opened": "2026-09-20"})
    bench.must("pour-bath", "H5", container="K1")
    assert last_day(bench, "H5") == ("2026-12-04", "the opened container's life")
    bench.must("close-bath", "H5", reason="r")
    bench.wait(10 * DAY)
    no = bench.checked_refusal("bath-expired", "pour-bath", "H5", container="K1")
    assert "the opened container's life ended on 2026-12-04" in no.why


def test_activated_in_the_container_counts_from_there() -> None:
    bench = Bench()
    bench.must("register-container", "K1", **GLUT)
    bench.checked_refusal("bath-not-activated", "pour-bath", "H5", container="K1")
    bench.must("pour-bath", "H5", container="K1", activated=TODAY)
    assert last_day(bench, "H5") == ("2026-12-09", "the reuse life")
    bench.must("register-container", "K2", **GLUT, activated="2026-11-20")
    bench.must("pour-bath", "H6", container="K2")
    assert last_day(bench, "H6") == ("2026-12-04", "the reuse life")
    bench.must("pour-bath", "H7", container="K2", activated=TODAY)  # cannot be made younger by what is written down
    assert last_day(bench, "H7") == ("2026-12-04", "the reuse life")
    bench.must("pour-bath", "H8", container="K2", activated="2026-11-19")  # but older, where that is told
    assert last_day(bench, "H8") == ("2026-12-03", "the reuse life")


def test_topping_up_leaves_the_life_of_the_bath_as_it_was() -> None:
    # GIE-HLD: topping off "does not extend its reuse life".
    bench = Bench()
    before = last_day(bench, "H4")
    bench.wait(5 * DAY)
    event = bench.must("top-up", "H4", lot="C-9", expires="2029-01-01", opened="2026-11-30")
    assert last_day(bench, "H4") == before == ("2026-12-09", "the reuse life")
    assert event.refs["lot"] == "C-9" and bench.bath("H4").uid == event.refs["bath"]
    bench.wait(10 * DAY)
    bench.checked_refusal("bath-expired", "top-up", "H4", lot="C-9", expires="2029-01-01", opened="2026-11-30")


def test_topping_up_can_make_it_shorter() -> None:
    bench = Bench()
    bench.must("top-up", "H4", lot="C-9", expires="2026-12-01", opened="2026-10-01")
    assert last_day(bench, "H4") == ("2026-12-01", "the printed expiry")
    assert bench.bath("H4").opened == "2026-10-01"
    bench.must("register-container", "K1", **GLUT, activated="2026-11-20")
    bench.pour("H5", "glut-2-label-25c", activated=TODAY)
    bench.must("top-up", "H5", container="K1")
    assert last_day(bench, "H5") == ("2026-12-04", "the reuse life")


def test_topping_up_takes_the_same_solution_and_wants_a_new_strip() -> None:
    bench = Bench()
    bench.must("register-container", "K1", **GLUT, activated=TODAY)
    bench.checked_refusal("top-up-differs", "top-up", "H4", container="K1")
    bench.pour("H5", "glut-2-label-25c", activated=TODAY)
    added = {"lot": "C-9", "expires": "2029-01-01", "opened": TODAY}
    bench.checked_refusal("bath-not-activated", "top-up", "H5", **added)
    bench.checked_refusal("unknown-bath", "top-up", "H9", **added)
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2", test="before")
    assert "dip a new one" in bench.must("top-up", "H4", **added).data["notices"][0]
    bench.wait(1)
    bench.checked_refusal("strip-before", "start", "B2", **bench.start_values("B2"), test="before")
    bench.strip("B2")
    bench.wait(1)
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.must("top-up", "H4", **added)
    bench.must("undo", "B2")  # the strip is free again, and it was dipped before the topping up
    bench.wait(1)
    bench.checked_refusal("strip-before", "start", "B2", **bench.start_values("B2"))


def test_topping_up_wants_what_a_pouring_wants_of_the_label() -> None:
    bench = Bench()
    added = {"lot": "C-9", "expires": "2029-01-01", "opened": TODAY}
    bench.checked_refusal("needs-label", "top-up", "H4", lot="C-9", opened=TODAY)
    bench.checked_refusal("future", "top-up", "H4", **{**added, "opened": "2026-11-26"})
    bench.checked_refusal("bath-expired", "top-up", "H4", **{**added, "expires": "2026-11-24"})
    # What is added is named as its container has it: a kind where that has no claim.
    bench.must("register-container", "K1", kind="detergent", lot="D-1", expires="2027-06-30", opened=TODAY)
    bench.must("register-container", "K2", **GLUT, activated=TODAY)
    for container, named in (("K1", "detergent"), ("K2", "glut-2-label-25c")):
        no = bench.checked_refusal("top-up-differs", "top-up", "H4", container=container)
        assert no.why == f"bath H4 holds OPA 0.55 %, manual, 20 °C, not {named}"


def test_topping_up_asks_for_a_new_strip_only_where_one_was_dipped_that_still_counts() -> None:
    bench = Bench()
    added = {"lot": "C-9", "expires": "2029-01-01", "opened": TODAY}
    assert "notices" not in bench.must("top-up", "H4", **added).data
    bench.soaking("B2")  # its strip is used up
    assert "notices" not in bench.must("top-up", "H4", **added).data
    bench.take_to("B3", "disinfectant-soak")
    bench.strip("B3")
    assert bench.must("top-up", "H4", **added).data["notices"] == [kept("topped-up")]


def test_topping_up_with_what_was_activated_sets_the_date_of_a_bath_that_had_none() -> None:
    bench = Bench()
    added = {"lot": "C-9", "expires": "2029-01-01", "opened": TODAY}
    assert bench.must("top-up", "H4", **added).data["now"]["activated"] == ""
    assert bench.must("top-up", "H4", **added, activated=TODAY).data["now"]["activated"] == TODAY
    assert bench.bath("H4").activated == TODAY


def test_detergent_goes_by_the_name_on_its_container() -> None:
    bench = Bench()
    assert bench.pour("W8").data["bath"]["title"] == "detergent"
    assert bench.pour("W9", title="enzymatic, 5 ml a litre").data["bath"]["title"] == "enzymatic, 5 ml a litre"


def test_a_bath_nobody_knows_is_answered_with_those_there_are() -> None:
    bench = Bench()
    bench.pour("H5", "opa-055-20c")
    added = {"lot": "C-9", "expires": "2029-01-01", "opened": TODAY}
    for do, values in (("top-up", added), ("close-bath", {"reason": "r"})):
        assert bench.checked_refusal("unknown-bath", do, "H9", **values).remedy == "use one of: H4, H5"
    empty = Bench(ready=False)
    empty.must("add-person", "ann", name="Ann", role="lead")
    for do, values in (("top-up", added), ("close-bath", {"reason": "r"})):
        assert empty.checked_refusal("unknown-bath", do, "H9", **values).remedy == "use one of: none"


def test_a_container_or_bottle_nobody_knows_is_answered_with_those_still_open() -> None:
    bench = Bench()
    pour = {"do": "pour-bath", "subject": "H5", "container": "K9"}
    assert bench.checked_refusal("unknown-container", **pour).remedy.endswith(": none")
    for label in ("K1", "K2", "K3"):
        bench.must("register-container", label, **OPA)
    bench.must("close-container", "K2", reason="empty")
    assert bench.checked_refusal("unknown-container", **pour).remedy.endswith(": K1, K3")
    no = bench.checked_refusal("unknown-container", "close-container", "K9", reason="empty")
    assert no.remedy.endswith(": K1, K3")
    # a label is free again once its container was discarded
    assert bench.must("register-container", "K2", **OPA).data["container"]["lot"] == "C-1"
    for label in ("S1", "S2", "S3"):
        bench.bottle(label)
    bench.must("close-strips", "S2", reason="empty")
    bench.take_to("B2", "disinfectant-soak")
    strip = {"scope": "B2", "result": "pass", "strip_lot": "S99"}
    assert "S1, S3" in bench.checked_refusal("unknown-strips", "strip-test", "H4", **strip).remedy


def test_a_container_of_detergent_has_a_name_and_no_claim() -> None:
    bench = Bench()
    rest = {"kind": "detergent", "lot": "D-1", "expires": "2027-06-30", "opened": TODAY}
    for label, given, title in (("K1", {}, "detergent"), ("K2", {"title": "enzymatic"}, "enzymatic")):
        bench.must("register-container", label, **rest, **given, claim="opa-055-20c")
        held = bench.unit.containers[label]
        assert (held.title, held.claim) == (title, "")


def test_a_date_that_the_container_lacks_is_said_to_be_missing() -> None:
    bench = Bench()
    bench.must("register-container", "K2", kind="detergent", lot="D-1", expires="2027-06-30", opened=TODAY)
    no = bench.checked_refusal("container-differs", "pour-bath", "H5", container="K2", claim="opa-055-20c")
    assert "none" in no.why and "opa-055-20c" in no.why, no.why


@pytest.mark.parametrize("typed", [{}, {"lot": "A213B1"}, {"expires": "2027-07-31"}])
def test_lot_and_expiry_come_from_a_scan(typed: dict[str, str]) -> None:
    bench = Bench()
    scan = f"]d20151022222233336172707001 0A213B1{SEPARATOR}211234".replace(" ", "")
    rest = {"kind": "disinfectant", "claim": "opa-055-20c", "opened": TODAY}
    bench.must("register-container", "K1", scan=scan, **rest, **typed)
    container = bench.unit.containers["K1"]
    assert (container.lot, container.expires, container.gtin) == ("A213B1", "2027-07-31", "51022222233336")
    bench.checked_refusal("label-contradicts", "register-container", "K2", scan=scan, lot="A213B7", **rest)
    bench.checked_refusal("label-unread", "register-container", "K2", scan="]Q1whatever", **rest)


def test_a_label_without_an_expiry_gives_its_best_before_and_a_plain_one_its_text_as_the_lot() -> None:
    # GS1 General Specifications: AI 15 is "best before", AI 17 the expiry, AI 10 the lot.
    bench = Bench()
    rest = {"kind": "disinfectant", "claim": "opa-055-20c", "opened": TODAY}
    bench.must("register-container", "K1", scan="]d21528063010L-8", **rest)
    held = bench.unit.containers["K1"]
    assert (held.lot, held.expires) == ("L-8", "2028-06-30")
    bench.checked_refusal("needs-label", "register-container", "K2", scan="]d210L-8", **rest)
    bench.must("register-container", "K2", scan="LOT 77-A", expires="2028-06-30", **rest)
    assert bench.unit.containers["K2"].lot == "LOT 77-A"


@pytest.mark.parametrize("kind", [{"kind": "detergent"}, {"kind": "disinfectant", "claim": "opa-055-20c"}])
def test_a_printed_expiry_is_the_last_day_on_which_anything_is_opened_or_poured(kind: dict[str, str]) -> None:
    # "Use by" a date includes that day: our convention for every date on a label.
    for do, label in (("register-container", "K9"), ("pour-bath", "H9")):
        bench = Bench()
        given = {**kind, "lot": "L", "opened": TODAY}
        bench.checked_refusal("bath-expired", do, label, **given, expires="2026-11-24")
        bench.must(do, label, **given, expires=TODAY)


def test_scopes_and_strips_are_scanned_too() -> None:
    bench = Bench()
    bench.must("add-scope", "B9", protocol="bronchoscope-1", scan=f"]C1010950400005911821SN-77{SEPARATOR}")
    assert bench.unit.scopes["B9"].serial == "SN-77"
    typed = {"protocol": "bronchoscope-1", "serial": "1", "scan": "]C121SN-77"}
    bench.checked_refusal("label-contradicts", "add-scope", "B10", **typed)
    bench.must("register-strips", "S9", type="OPA 0.3 %", opened=TODAY, scan="]d217280630" + "10L-7")
    assert (bench.unit.strips["S9"].lot, bench.unit.strips["S9"].expires) == ("L-7", "2028-06-30")
