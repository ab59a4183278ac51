"""Signing in by touch and badge, the PIN on the large keys, the idle lock on the screen, and people in Setup."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, TECHNICIAN, Scene, Shown, in_soak

from data.pins import pin_values

Opener = Callable[..., Screen]
PIN = "740912"


def _open(open_screen: Opener, key: str = "setup", size: tuple[float, ...] = (412, 892), **settings: Any) -> Shown:
    scene = Scene()
    for person in (LEAD, TECHNICIAN):
        assert scene.desk.give("set-pin", person, pin_values(PIN)).done
    assert scene.desk.give("set-badge", TECHNICIAN, {"badge": "K-17"}).done
    if settings:
        assert scene.desk.give("set-unit", "unit", settings).done
    return Shown(open_screen(*size), scene, key)


def test_a_person_with_a_pin_types_it_and_it_is_never_shown(open_screen: Opener) -> None:
    shown = _open(open_screen)
    shown.tap("Signed in", "Joss")
    for char in "7409":
        shown.tap(char)
    assert "****" in shown.screen.texts() and "7409" not in shown.screen.texts()
    shown.tap("Done")
    assert shown.scene.desk.by == LEAD and "That PIN is wrong" in shown.screen.texts()
    shown.tap("Signed in", "Joss")
    shown.type(PIN)
    assert shown.scene.desk.by == TECHNICIAN
    assert shown.scene.kinds()[-2:] == ["pin-wrong", "sign-in"]


def test_a_badge_asks_for_its_persons_pin(open_screen: Opener) -> None:
    shown = _open(open_screen)
    shown.scan("K-17")
    assert "Joss: your PIN" in shown.screen.texts()
    shown.scan(PIN)  # a scan is no PIN
    assert shown.scene.desk.by == LEAD
    shown.type(PIN)
    assert shown.scene.desk.by == TECHNICIAN


def test_a_badge_is_its_persons_tile(open_screen: Opener) -> None:
    shown = _open(open_screen)
    shown.tap("Signed in")
    shown.scan("k-17")
    assert "Joss: your PIN" in shown.screen.texts()


def test_the_lock_takes_the_name_and_leaves_the_page(open_screen: Opener) -> None:
    shown = _open(open_screen, "watch", lock_after_s=120)
    scene = shown.scene
    scene.receive("B2")
    scene.walk("B2", in_soak("disinfectant"))
    shown.tap("Watch")
    before = shown.page
    scene.wait(119)
    shown.shell.tick()
    assert scene.desk.by == LEAD
    scene.wait(1)
    shown.shell.tick()
    shown.settle()
    assert scene.desk.by == "" and shown.page is before
    assert any(text.startswith("Locked: nobody is signed in") for text in shown.screen.texts())
    lane = shown.shell.lane("B2")
    assert lane is not None
    scene.wait(lane.left_s)
    assert shown.shell.give("lift", "B2", {"temp_c": 21}).done
    shown.scan("K-17")
    shown.type(PIN)
    assert scene.desk.by == TECHNICIAN
    assert "1 done on B2 while nobody was signed in. Do you stand for it?" in shown.screen.texts()
    shown.tap("Yes, I stand for it")
    assert scene.last_line()["kind"] == "confirm-acts" and not scene.door.unit.unconfirmed


def test_a_touch_puts_the_lock_off(open_screen: Opener) -> None:
    shown = _open(open_screen, lock_after_s=120)
    for _ in range(4):
        shown.scene.wait(60)
        shown.tap("People")
        shown.shell.tick()
        shown.go("setup")
    assert shown.scene.desk.by == LEAD


def test_an_administrator_changes_a_person_in_setup(open_screen: Opener) -> None:
    shown = _open(open_screen, "setup-people")
    shown.tap("Joss", "Set the badge")
    shown.scan("K-99")
    assert shown.scene.last_line()["data"] == {"badge": "K-99"}
    shown.tap("Joss", "Set the PIN")
    shown.type("5061")
    shown.type("5062")
    assert "The two PINs differ; nothing has changed" in shown.screen.texts()
    shown.tap("Joss", "Set the PIN")
    shown.type("5061")
    shown.type("5061")
    line = shown.scene.last_line()
    assert line["kind"] == "set-pin" and set(line["data"]["pin"]) == {"salt", "hash", "n", "r", "p"}
    shown.tap("Joss", "Take off the list", "Take off the list")
    assert shown.scene.last_line()["kind"] == "retire-person" and "Joss" not in shown.screen.texts()


def test_the_units_rules_for_people_are_set_by_touch(open_screen: Opener) -> None:
    shown = _open(open_screen, "setup-unit")
    shown.tap("PIN to sign in", "Sign out when idle")
    shown.type("5")
    shown.tap("Form of a case reference")
    shown.scan("99-9999")
    settings = shown.scene.door.unit.settings
    assert (settings.pins_required, settings.lock_after_s, settings.case_pattern) == (True, 300, "99-9999")
    assert "after 5 min" in shown.screen.texts()


@pytest.mark.parametrize("size", SIZES)
def test_nothing_of_it_is_clipped(open_screen: Opener, size: tuple[float, ...]) -> None:
    shown = _open(open_screen, "setup-unit", size, lock_after_s=600, case_pattern="99-9999")
    assert shown.leaves()
    shown.go("setup-people")
    assert shown.leaves()
    shown.tap("Joss")
    assert shown.leaves()
    shown.tap("Set the PIN")
    assert shown.leaves()
    shown.go("setup")
    shown.scan("K-17")
    assert shown.leaves()


def test_one_pin_of_a_lead_serves_a_protocol_and_its_scope(open_screen: Opener) -> None:
    shown = _open(open_screen, "setup-scope")
    shown.scene.desk.by = TECHNICIAN
    shown.scan("L3")
    shown.tap("Next: Protocol", "Laryngoscope without channel", "Add L3", "Mira")
    shown.type(PIN)
    shown.tap("Take it into use")
    assert shown.scene.kinds()[-3:] == ["sign-in", "adopt-protocol", "add-scope"]
    assert shown.scene.last_line()["by"] == LEAD and shown.scene.desk.by == TECHNICIAN
