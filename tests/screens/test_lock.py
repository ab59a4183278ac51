"""Signing in, the idle lock, and what a locked handheld still does: at the desk, without a window."""

from __future__ import annotations

from typing import Any

from harness import Screen  # noqa: F401  (sets the environment before anything imports Kivy)
from lead_scene import LEAD, TECHNICIAN, Scene, in_soak

from data.pins import pin_values
from protocols.clock import Stamp
from screens.desk import Desk, Told
from screens.lock import VOUCHED_S, Lock

PIN = "740912"


def _stamp(seconds: float) -> Stamp:
    return Stamp(round(seconds * 1000), round(seconds * 1000), 0)


def _scene(**settings: Any) -> Scene:
    scene = Scene()
    scene.desk.by = LEAD
    for person in (LEAD, TECHNICIAN):
        assert scene.desk.give("set-pin", person, pin_values(PIN)).done
    if settings:
        assert scene.desk.give("set-unit", "unit", settings).done
    return scene


def _in_as(desk: Desk, person: str) -> Told:
    assert desk.prove(desk.unit.people[person], PIN).done
    return desk.sign_in(person)


# --- the pure part


def test_the_lock_is_due_after_that_long_without_a_touch_and_never_for_zero() -> None:
    lock = Lock()
    assert not lock.due(_stamp(0), 60)
    assert not lock.due(_stamp(59.9), 60) and lock.due(_stamp(60), 60)
    lock.touched(_stamp(60))
    assert not lock.due(_stamp(119), 60) and lock.due(_stamp(120), 60)
    assert not lock.due(_stamp(10**9), 0)


def test_a_time_that_nobody_saw_counts_as_idle() -> None:
    lock = Lock()
    lock.touched(Stamp(0, 0, 0))
    assert lock.due(Stamp(1_000, 61_000, 0), 60)


def test_a_vouch_serves_one_person_and_not_for_long() -> None:
    lock = Lock()
    assert not lock.vouched("ann", _stamp(0))
    lock.vouch("ann", _stamp(0))
    assert not lock.vouched("tim", _stamp(1)) and lock.vouched("ann", _stamp(VOUCHED_S))
    assert not lock.vouched("ann", _stamp(VOUCHED_S + 1))
    lock.vouch("ann", _stamp(0))
    lock.vouch("tim", _stamp(1))
    assert not lock.vouched("ann", _stamp(2)) and lock.vouched("tim", _stamp(2))
    lock.forget()
    assert not lock.vouched("tim", _stamp(2))


# --- at the desk


def test_who_has_a_pin_signs_in_only_with_it() -> None:
    scene = _scene()
    desk = scene.desk
    desk.by = ""
    assert desk.sign_in(TECHNICIAN).rule == "pin-needed" and desk.by == ""
    assert desk.give("close-bath", "H1", {"reason": "old"}, by=LEAD).rule == "pin-needed"
    told = desk.prove(desk.unit.people[TECHNICIAN], "740913")
    assert (told.done, told.rule) == (False, "pin-wrong") and desk.sign_in(TECHNICIAN).rule == "pin-needed"
    assert scene.last_line()["kind"] == "pin-wrong"
    assert _in_as(desk, TECHNICIAN).done and desk.by == TECHNICIAN
    assert scene.last_line()["kind"] == "sign-in" and PIN not in str(scene.last_line())


def test_a_wrong_pin_says_when_the_next_is_taken() -> None:
    desk = _scene().desk
    person = desk.unit.people[TECHNICIAN]
    told = [desk.prove(person, "1111") for _ in range(4)]
    assert [t.rule for t in told] == ["pin-wrong", "pin-wrong", "pin-wrong", "pin-wait"]
    assert "30 s" in told[2].words and "0:30" in told[3].words


def test_a_lead_named_by_somebody_else_has_just_shown_the_pin() -> None:
    scene = _scene()
    desk = scene.desk
    assert _in_as(desk, TECHNICIAN).done
    assert desk.prove(desk.unit.people[LEAD], PIN).done
    values = {"name": "Kit", "role": "technician"}
    assert desk.give("add-person", "kit", values, by=LEAD).done and desk.by == TECHNICIAN
    scene.wait(VOUCHED_S + 1)
    assert desk.give("add-person", "lou", values, by=LEAD).rule == "pin-needed"
    assert desk.prove(desk.unit.people[LEAD], PIN).done and not desk.prove(desk.unit.people[LEAD], "1111").done
    assert desk.give("add-person", "lou", values, by=LEAD).rule == "pin-needed"


def test_a_badge_names_its_person() -> None:
    desk = _scene().desk
    assert desk.give("set-badge", TECHNICIAN, {"badge": "K-17"}).done
    found = desk.by_badge("k-17")
    assert found is not None and found.id == TECHNICIAN and desk.by_badge("") is None


def test_where_pins_are_required_nobody_without_one_signs_in() -> None:
    scene = _scene(pins_required=True)
    assert scene.desk.give("add-person", "kit", {"name": "Kit", "role": "technician"}).done
    kit = scene.desk.unit.people["kit"]
    assert scene.desk.needs_pin(kit) and scene.desk.prove(kit, "1234").rule == "no-pin"
    assert scene.desk.sign_in("kit").rule == "pin-needed"


def test_two_pins_that_differ_or_are_too_short_change_nothing() -> None:
    scene = _scene()
    before = scene.desk.unit
    assert scene.desk.set_pin(LEAD, "1234", "1235").rule == "pin-differ"
    assert scene.desk.set_pin(LEAD, "12", "12").rule == "shape" and scene.desk.unit is before
    assert scene.desk.set_pin(LEAD, "5061", "5061").done


def test_a_locked_handheld_shows_and_calls_as_before_and_takes_a_lift() -> None:
    scene = _scene(lock_after_s=120)
    desk, clock = scene.desk, scene.clock
    scene.receive("B2")
    scene.walk("B2", in_soak("disinfectant"))
    soaking = desk.lane("B2")
    assert soaking is not None
    desk.touched()
    clock.advance(119)
    assert not desk.lock_if_idle() and desk.by == LEAD
    clock.advance(1)
    lanes, prompts = desk.lanes(), desk.prompts()
    assert desk.lock_if_idle() and desk.by == "" and not desk.lock_if_idle()
    assert desk.lanes() == lanes and desk.prompts() == prompts
    clock.advance(max(0.0, soaking.left_s))
    assert any(prompt.scope == soaking.scope for prompt in desk.prompts())
    assert desk.give("note", soaking.scope, {"what": "other", "text": "x"}).rule == "not-signed-in"
    assert desk.give("release", "B5").rule == "not-signed-in"
    lifted = desk.give("lift", soaking.scope, {"temp_c": 21})
    assert lifted.done and scene.last_line()["by"] == "unconfirmed"
    assert _in_as(desk, TECHNICIAN).done
    assert [told.done for told in desk.confirm_acts()] == [True]
    line = scene.last_line()
    assert lifted.event is not None
    assert (line["kind"], line["by"], line["data"]["acts"]) == ("confirm-acts", TECHNICIAN, [lifted.event.id])
    assert desk.confirm_acts() == []
