"""Looks, brush passes, counts, readings and skips."""

from __future__ import annotations

import pytest
from driver import Bench
from odd_protocols import odd

from protocols.cycle import State


def test_a_look_goes_on_only_with_an_outcome_of_its_step() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    bench.wait(1)
    no = bench.checked_refusal("unknown-outcome", "look", "B2", outcome="dirty")
    assert "clean, debris" in no.remedy
    event = bench.must("look", "B2", outcome="clean")
    assert event.data["to"] == "wipe-insertion"
    assert (event.data["step"], event.data["stage"]) == ("wipe-boot", "clean")
    bath = bench.bath(bench.detergent("B2"))
    lain = next(e for e in bench.events if e.kind == "look" and e.data["step"] == "immerse")
    assert (lain.refs["bath"], lain.data["bath"]) == (bath.uid, bath.label)
    assert event.refs["cycle"] == bench.cycle("B2").id and event.refs["case"] == bench.cycle("B2").case


def test_debris_on_the_outside_is_wiped_again_and_again() -> None:
    bench = Bench()
    bench.take_to("B2", "wipe-boot")
    for _ in range(5):
        bench.wait(1)
        bench.must("look", "B2", outcome="debris")
        assert bench.cycle("B2").step == "wipe-boot"


def test_a_look_asks_for_what_its_step_needs_and_records() -> None:
    bench = Bench()
    bench.wait(1)
    bench.receive("B2")
    bench.checked_refusal("needs", "look", "B2", outcome="ready")
    bench.checked_refusal("needs", "look", "B2", outcome="ready", ppe=False)
    bench.take_to("B2", "store")
    bench.wait(1)
    bench.checked_refusal("needs-record", "look", "B2", outcome="hung", label=True)
    ended = bench.must("look", "B2", outcome="hung", label=True, place="cabinet 3")
    assert ended.data["ends"] == "completed" and ended.data["confirmed"] == ["label"]
    last = bench.unit.scopes["B2"].last
    assert last is not None and last.place == "cabinet 3"


def test_debris_at_inspection_goes_back_to_the_detergent_and_every_step_comes_again() -> None:
    bench = Bench()
    bench.take_to("B2", "inspect")
    bench.wait(1)
    first = bench.cycle("B2").clean_from
    bench.must("look", "B2", outcome="debris")
    assert bench.cycle("B2").step == "immerse"
    bench.wait(600)
    bench.go("B2")
    second = bench.cycle("B2").clean_from
    assert first is not None and second is not None and second.wall_ms > first.wall_ms + 600_000  # timed anew
    again = [e.data["step"] for e in bench.whole_cycle("B2") if "step" in e.data]
    for step in ("wipe-control", "brush-port", "brush-tip", "flush-suction-channel", "detergent-soak", "inspect"):
        assert step in again


def test_damage_takes_the_scope_out_of_service_with_its_owner() -> None:
    bench = Bench()
    bench.take_to("B2", "inspect")
    bench.wait(1)
    ended = bench.must("look", "B2", outcome="damage", owner="biomed desk")
    assert (ended.data["ends"], ended.data["owner"]) == ("out of service", "biomed desk")
    bench.checked_refusal("not-releasable", "release", "B2")


def test_brushing_ends_with_the_first_clean_brush_and_every_pass_is_counted() -> None:
    bench = Bench()
    bench.take_to("B2", "brush-tip")
    for number in range(1, 12):
        bench.wait(1)
        assert bench.must("pass", "B2", debris="seen").data["passes"] == number
        assert bench.cycle("B2").step == "brush-tip"
    bench.wait(1)
    bench.checked_refusal("needs", "pass", "B2", debris="none")  # the brush is not discarded
    done = bench.must("pass", "B2", debris="none", brush=True)
    assert done.data["confirmed"] == ["brush"]
    assert done.data["pass_count"] == 12 and bench.cycle("B2").step == "flush-suction-channel"
    assert bench.cycle("B2").passes == 0


def test_a_count_ends_with_its_last_flush() -> None:
    bench = Bench()
    bench.take_to("B2", "flush-suction-channel")
    seen = []
    for _ in range(3):
        bench.wait(1)
        event = bench.must("count", "B2")
        seen.append((event.data["count"], event.data["of"], event.data["volume_ml"]))
    assert seen == [(1, 3, 30), (2, 3, 30), (3, 3, 30)]
    assert bench.cycle("B2").step == "detergent-soak" and bench.cycle("B2").done == 0


def test_a_rinse_wants_fresh_water_and_its_grade_each_time() -> None:
    bench = Bench()
    bench.take_to("B2", "final-flush")
    bench.wait(1)
    bench.checked_refusal("needs", "count", "B2", water="sterile")
    bench.checked_refusal("needs-record", "count", "B2", fresh=True)
    assert bench.must("count", "B2", fresh=True, water="filtered").data["water"] == "filtered"
    bench.wait(1)
    bench.checked_refusal("needs", "count", "B2", water="sterile", fresh=False)


def test_a_reading_needs_a_limit_of_its_method_on_its_meter() -> None:
    bench = Bench()
    bench.take_to("B2", "verify")
    bench.wait(1)
    no = bench.checked_refusal("unknown-method", "read", "B2", method="ATP", meter="meter Z", value=5)
    assert "ATP on meter B" in no.remedy
    event = bench.must("read", "B2", method="ATP", meter="meter B", value=150)
    assert (event.data["verdict"], event.data["unit"], event.data["limit"]) == ("pass", "RLU", {"pass_below": 200})
    assert (event.data["method"], event.data["meter"], event.data["value"]) == ("ATP", "meter B", 150)
    assert bench.cycle("B2").step == "disinfectant-soak"


@pytest.mark.parametrize(("value", "verdict", "to"), [(2, "pass", "disinfectant-soak"), (7, "fail", "immerse")])
def test_a_failed_reading_goes_back_to_cleaning(value: float, verdict: str, to: str) -> None:
    bench = Bench()
    bench.take_to("B2", "verify")
    bench.wait(1)
    assert bench.must("read", "B2", method="protein", meter="any meter", value=value).data["verdict"] == verdict
    assert bench.cycle("B2").step == to


def test_only_an_optional_step_is_skipped_and_only_with_a_reason() -> None:
    bench = Bench()
    bench.take_to("B2", "inspect")
    bench.wait(1)
    bench.checked_refusal("not-optional", "skip", "B2", reason="busy")
    bench.take_to("B2", "alcohol-flush")
    bench.wait(1)
    event = bench.must("skip", "B2", reason="by risk assessment none")
    assert event.data["reason"] == "by risk assessment none" and bench.state("B2") is State.AIR_OFF


@pytest.mark.parametrize("step", [s.id for s in odd().shelf.protocol(odd().unit.protocols["good"]).steps if s.optional])
def test_every_optional_step_of_a_protocol_can_be_skipped(step: str) -> None:
    bench = odd()
    bench.take_to("X1", step)
    bench.wait(1)
    bench.must("skip", "X1", reason="not today")
    assert bench.cycle("X1").step != step


def test_the_figures_in_force_stand_in_each_event() -> None:
    bench = Bench()
    events = bench.whole_cycle("B2")
    soak = next(e for e in events if e.kind == "start" and e.data["step"] == "disinfectant-soak")
    assert soak.data["figures"]["over_s_max"] == 600 and soak.data["soak"]["required_s"] == 720
    air = next(e for e in events if e.kind == "check")
    assert air.data["figures"]["soak_s_min"] == 600


def test_a_protocol_adopted_meanwhile_does_not_change_a_cycle_under_way() -> None:
    bench = Bench()
    bench.take_to("B2", "flush-suction-channel")
    old = bench.cycle("B2").text_sha256
    text = (
        bench.shelf.text(old)
        .replace("version = 1", "version = 2")
        .replace("times = { value = 3", "times = { value = 5")
    )
    bench.must("adopt-protocol", "bronchoscope-1", toml=text)
    for _ in range(3):
        bench.wait(1)
        bench.must("count", "B2")
    assert bench.cycle("B2").text_sha256 == old and bench.cycle("B2").step == "detergent-soak"
    bench.take_to("B3", "flush-suction-channel")
    for _ in range(4):
        bench.wait(1)
        bench.must("count", "B3")
    assert bench.cycle("B3").text_sha256 != old and bench.cycle("B3").step == "flush-suction-channel"


def test_a_note_moves_nothing_and_silences_nothing() -> None:
    bench = Bench()
    bench.soaking("B2")
    before = bench.cycle("B2")
    bench.wait(5)
    bench.must("note", "B2", what="other", text="splash")
    after = bench.cycle("B2")
    assert (after.timer, after.step, after.last_do, after.undo) == (before.timer, before.step, "start", before.undo)
    assert after.last_seq == before.last_seq + 1
