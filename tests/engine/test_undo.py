"""Undo: for ten seconds, of the last tap, where it is safe, and of no more than that tap."""

from __future__ import annotations

from typing import Any

import pytest
from driver import Bench

from protocols.cycle import State


def test_a_tap_is_taken_back_within_ten_seconds_and_the_record_keeps_both() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    bench.wait(1)
    before = bench.cycle("B2")
    tap = bench.must("look", "B2", outcome="clean")
    bench.wait(10)
    back = bench.must("undo", "B2", by="tim")
    assert (back.data["undoes"], back.data["what"], back.data["step"]) == (tap.seq, "look", "wipe-boot")
    after = bench.cycle("B2")
    assert (
        after._replace(last_seq=before.last_seq, last_do=before.last_do, last_at=before.last_at, undo=before.undo)
        == before
    )
    assert bench.events[-2] == tap and bench.replayed() == bench.unit


def test_after_ten_seconds_it_is_too_late_and_only_once() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    bench.wait(10.001)
    bench.checked_refusal("undo-late", "undo", "B2")
    bench.must("look", "B2", outcome="clean")
    bench.must("undo", "B2")
    bench.wait(1)
    bench.checked_refusal("undo-none", "undo", "B2")


def test_ten_seconds_are_the_longest_that_may_have_passed() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    bench.wait(1)
    bench.must("look", "B2", outcome="clean")
    bench.reboot(down_s=3600)
    bench.checked_refusal("undo-late", "undo", "B2")


# What a scope does at a step, and whether that tap can be taken back: what a patient's safety rests on can't.
SAFE: list[tuple[str, str, dict[str, Any]]] = [
    ("wipe-boot", "look", {"outcome": "debris"}),
    ("brush-port", "pass", {"debris": "none"}),
    ("flush-suction-channel", "count", {}),
    ("inspect", "look", {"outcome": "debris"}),
    ("verify", "read", {"method": "protein", "meter": "P", "value": 9}),
    ("verify", "skip", {"reason": "r"}),
    ("verify", "choose", {"way": "machine"}),
    ("final-rinse", "start", {}),
    ("drying-air", "start", {}),
]
UNSAFE: list[tuple[str, str, dict[str, Any]]] = [
    ("leak-test", "look", {"outcome": "leak"}),
    ("inspect", "out-of-service", {"reason": "r", "owner": "o"}),
    ("store", "look", {"outcome": "hung", "label": True, "place": "p"}),
    ("inspect", "void", {"reason": "r"}),
]


@pytest.mark.parametrize(("step", "do", "given"), SAFE)
def test_a_safe_tap_can_be_undone(step: str, do: str, given: dict[str, Any]) -> None:
    bench = Bench()
    bench.take_to("B2", step)
    bench.wait(1)
    before = bench.cycle("B2")
    bench.must(do, "B2", **given)
    bench.wait(5)
    bench.must("undo", "B2")
    after = bench.cycle("B2")
    same = ("step", "flags", "done", "passes", "running", "timer", "soak", "disinfected", "dried", "delay", "hold")
    assert [getattr(after, name) for name in same] == [getattr(before, name) for name in same]


@pytest.mark.parametrize("dry", [True, False])
def test_a_look_for_moisture_can_be_undone_and_the_air_went_on(dry: bool) -> None:
    bench = Bench()
    bench.take_to("B2", "drying-air")
    bench.must("start", "B2", **bench.given("B2"))
    started = bench.cycle("B2").timer
    bench.wait(600)  # ST91-SUM: at least 10 min, then until no moisture is left
    checked = bench.must("check", "B2", dry=dry)
    assert (bench.cycle("B2").dried is not None) == dry and bench.cycle("B2").done == (0 if dry else 1)
    bench.wait(5)
    assert bench.must("undo", "B2").data["undoes"] == checked.seq
    after = bench.cycle("B2")
    assert (after.step, after.running, after.timer, after.done, after.dried) == ("drying-air", True, started, 0, None)
    bench.wait(1)
    assert bench.must("check", "B2", dry=True).data["air_s"] == 606
    assert bench.cycle("B2").dried is not None


@pytest.mark.parametrize(("step", "do", "given"), UNSAFE)
def test_an_unsafe_tap_can_not(step: str, do: str, given: dict[str, Any]) -> None:
    bench = Bench()
    bench.take_to("B2", step)
    bench.wait(1)
    bench.must(do, "B2", **given)
    bench.checked_refusal("undo-unsafe" if "B2" in bench.unit.cycles else "no-cycle", "undo", "B2")


def test_no_lift_interruption_or_end_of_a_run_can_be_undone() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(1)
    bench.must("lift", "B2", reason="slipped")
    bench.checked_refusal("undo-unsafe", "undo", "B2")
    bench.soaking("B3")
    bench.wait(1)
    bench.must("interrupt", "B3", reason="r")
    bench.checked_refusal("undo-unsafe", "undo", "B3")
    bench.soaking("B3")
    bench.wait(720)
    bench.must("lift", "B3")
    bench.must("note", "B3", what="other", text="t")
    bench.checked_refusal("undo-unsafe", "undo", "B3")
    bench.take_to("D6", "machine-run")
    bench.must("start", "D6", machine="M", run="1")
    bench.wait(1200)
    bench.must("run-end", "D6", result="complete")
    bench.checked_refusal("undo-unsafe", "undo", "D6")


def test_undoing_a_soak_start_gives_bath_and_strip_back() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    before = bench.bath("H4")
    bench.must("start", "B2", **bench.start_values("B2"))
    assert bench.bath("H4").uses == 1 and all(t.used for t in bench.bath("H4").tests.values())
    bench.wait(3)
    bench.must("undo", "B2")
    assert bench.bath("H4") == before and bench.state("B2") is State.OUT
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(719)
    bench.checked_refusal("early-lift", "lift", "B2")


def test_undoing_the_detergent_bath_gives_it_back() -> None:
    bench = Bench()
    bench.take_to("B2", "immerse")
    bench.pour("W9")
    bench.wait(1)
    bench.must("look", "B2", outcome="under", bath="W9", temp_c=30, under=True)
    assert bench.bath("W9").cycle == bench.cycle("B2").id and bench.cycle("B2").clean_from is not None
    bench.wait(2)
    bench.must("undo", "B2")
    assert bench.bath("W9").cycle == "" and bench.cycle("B2").clean_from is None
    assert bench.cycle("B2").delay is not None


def test_undo_takes_nothing_else_of_the_bath_back() -> None:
    bench = Bench()
    bench.take_to("B3", "disinfectant-soak")
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    bench.strip("B3")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.wait(1)
    bench.must("start", "B3", **bench.start_values("B3"))
    bench.strip("G4", result="fail")
    bench.wait(1)
    bench.must("undo", "B2")
    bath = bench.bath("H4")
    assert bath.failed and bath.uses == 1 and bath.cycle == bench.cycle("B3").id
    assert {t.scope: t.used for t in bath.tests.values() if t.result == "pass"} == {"B2": False, "B3": True}
    bench.wait(1)
    bench.checked_refusal("bath-failed", "start", "B2", **bench.start_values("B2"))


def test_undo_opens_no_closed_bath_and_touches_no_new_one() -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.must("close-bath", "H4", reason="end of day")
    closed = bench.bath("H4").closed
    bench.wait(1)
    bench.must("undo", "B2")
    assert bench.bath("H4").closed == closed
    bench.pour("H4", "opa-055-20c")
    bench.wait(1)
    bench.strip("B2")
    bench.must("start", "B2", **bench.start_values("B2"))
    bench.must("close-bath", "H4", reason="spilled")
    bench.pour("H4", "opa-055-20c")
    fresh = bench.bath("H4")
    bench.must("undo", "B2")
    assert bench.bath("H4") == fresh


@pytest.mark.parametrize("meanwhile", ["nothing", "topped up", "failed", "closed", "withdrawn", "poured anew"])
def test_an_undo_brings_back_a_dip_only_where_its_strip_can_still_cover_a_soak(meanwhile: str) -> None:
    bench = Bench()
    bench.take_to("B2", "disinfectant-soak")
    bench.pour("H5", "opa-055-20c")
    bench.wait(1)
    bench.strip("B2", "H5")
    bench.must("dip-strip", "H4", scope="B2", strip_lot="S")
    dip = bench.cycle("B2").dip
    bench.must("start", "B2", **bench.start_values("B2", "H5"))
    bath = bench.bath("H4")
    if meanwhile == "topped up":
        bench.must("top-up", "H4", lot=bath.lot, expires=bath.expires, opened=bath.opened)
    elif meanwhile == "failed":
        bench.strip("G4", result="fail")
    elif meanwhile != "nothing":
        bench.must("close-bath", "H4", "tim" if meanwhile == "withdrawn" else "ann", reason="spilt")
        if meanwhile == "poured anew":
            bench.pour("H4", "opa-055-20c")
    bench.wait(2)
    bench.must("undo", "B2")
    assert dip is not None and bench.cycle("B2").dip == (dip if meanwhile == "nothing" else None)
    assert bench.replayed() == bench.unit


def test_an_undone_receipt_leaves_the_scope_as_it_was() -> None:
    bench = Bench()
    bench.whole_cycle("B2")
    before = bench.unit.scopes["B2"]
    bench.wait(1)
    bench.receive("B2")
    bench.wait(4)
    assert bench.must("undo", "B2").data["ends"] == "undone"
    assert "B2" not in bench.unit.cycles and bench.unit.scopes["B2"] == before
    bench.must("release", "B2")
    bench.receive("B2")


def test_a_leak_or_a_lead_in_between_ends_the_chance_to_undo() -> None:
    bench = Bench()
    bench.soaking("B2")
    bench.wait(2000)
    bench.must("lift", "B2")
    bench.wait(1)
    bench.must("decide", "B2", decision="clean-again", reason="r")
    bench.checked_refusal("undo-unsafe", "undo", "B2")
