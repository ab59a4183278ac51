"""One cycle in the Ledger by touch: its stages and facts, and its release by a named person after a question."""

from __future__ import annotations

from collections.abc import Callable

from harness import Screen
from lead_scene import LEAD, Scene, Shown, at_stage, two_cycles

from screens import words
from tests import pseudo

Opener = Callable[..., Screen]


def test_a_cycle_shows_its_stages_and_facts(open_screen: Opener) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(), "ledger")
    shown.tap("B2")
    texts = shown.all_texts()
    stages = ["prepare", "leak test", "clean", "rinse", "inspect", "disinfect", "final rinse", "dry", "store"]
    assert [text for text in texts if text in stages][: len(stages)] == stages
    assert "case 26-4471, took 37 min" in texts
    # OPA 0.55 % at 20 °C: 12 min (CDC 2008 guideline, Table 4).
    assert any(text.startswith("12:00 of 12:00 in H1") for text in texts)
    assert any(text.startswith("passed in H1, strip lot STRIP-07, Joss") for text in texts)
    assert "bath WB2, lot LOT-0102, 31 °C" in texts


def test_a_cycle_with_a_void_strip_shows_it_and_can_be_released(open_screen: Opener) -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", at_stage("disinfect"))
    window = {"read_s_from": 90, "read_s_to": 120}
    scene.give("register-strips", "S9", LEAD, type="OPA 0.3 %", expires="2027-06-30", opened="2026-11-25", **window)
    scene.give("strip-control", "S9", LEAD, positive=3, negative=3)
    scene.give("dip-strip", "H1", scope="B2", strip_lot="S9")
    scene.wait(400)
    assert scene.give("strip-test", "H1", scope="B2", result="pass", strip_lot="S9").data["result"] == "void"
    scene.wait(60)
    scene.walk("B2")
    shown = Shown(open_screen(412, 892), scene, "ledger")
    shown.tap("B2")
    assert any(text.startswith("void in H1, strip lot S9, Joss") for text in shown.all_texts())
    assert "void S9, passed STRIP-07" in " ".join(Shown(shown.screen, scene, "look-back", tag="B2").all_texts())
    shown = Shown(shown.screen, scene, "ledger")
    shown.tap("B2", "Release B2 for use", "Release B2")
    assert scene.last_line()["kind"] == "release"


def test_a_limit_that_was_passed_is_marked(open_screen: Opener) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(late=True), "ledger")
    assert "past a limit: 1" in shown.screen.texts()
    shown.tap("C4")
    texts = shown.all_texts()
    # The soak's limit is 10 min after its 12 min of contact (protocol figures), and it lay 30 min.
    assert "OVER 8:00" in texts
    assert any(text.startswith("lifted out 8:00 late") for text in texts)
    assert any("Go on as it is" in text and "Mira" in text for text in texts)


def test_release_is_signed_by_a_named_person_after_a_question(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "ledger")
    count = len(scene.kinds())
    shown.tap("B2")
    assert "DISINFECTED, NOT RELEASED" in shown.screen.texts()
    shown.tap("Release B2 for use")
    assert any(text.startswith("Released by Mira: B2 may be used") for text in shown.screen.texts())
    shown.tap("No, go back")
    assert len(scene.kinds()) == count
    shown.tap("Release B2 for use", "Release B2")
    line = scene.last_line()
    assert (line["kind"], line["subject"], line["by"]) == ("release", "B2", LEAD)
    assert len(scene.kinds()) == count + 1
    texts = shown.screen.texts()
    assert "RELEASED" in texts
    assert any(text.startswith("Released by Mira, 25 Nov") for text in texts)
    assert "Release B2 for use" not in texts
    shown.shell.back()
    shown.settle()
    assert shown.screen.texts().count("RELEASED") == 1


def test_nobody_signed_in_means_that_the_page_asks_who(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.desk.by = ""
    shown = Shown(open_screen(412, 892), scene, "ledger")
    shown.tap("B2", "Release B2 for use", "Joss", "Release B2")
    assert (scene.last_line()["kind"], scene.last_line()["by"]) == ("release", "joss")


def test_who_would_sign_is_named_as_of_now(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "ledger")
    shown.tap("B2")
    assert "signed by Mira" in shown.screen.texts()
    scene.give("set-unit", "unit", LEAD, lock_after_s=300)
    scene.wait(301)
    for _ in range(2):
        shown.shell.tick()
        scene.wait(1)
    shown.settle()
    assert scene.desk.by == "" and "signed by Mira" not in shown.screen.texts()


def test_a_release_the_door_refuses_is_told_and_nothing_changes(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "ledger")
    shown.tap("B2")
    scene.wait(8 * 86_400)
    count = len(scene.kinds())
    shown.tap("Release B2 for use", "Release B2")
    assert len(scene.kinds()) == count
    assert any("limit 168:00:00: reprocess it" in text for text in shown.screen.texts())


def test_an_earlier_cycle_cannot_be_released(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "ledger")
    shown.tap("B2")
    scene.receive("B2", 5, "26-4480")
    count = len(scene.kinds())
    shown.tap("Release B2 for use", "Release B2")
    assert len(scene.kinds()) == count
    assert any(text.startswith("B2 has been in a cycle since") for text in shown.screen.texts())
    assert "Release B2 for use" not in shown.screen.texts()


def test_what_came_later_is_told_of_an_earlier_cycle_too(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.give("release", "B2", LEAD)
    scene.receive("B2", 5, "26-4480")
    scene.walk("B2")
    shown = Shown(open_screen(412, 892), scene, "ledger", tag="B2")
    shown.tap("26-4471")
    assert any(text.startswith("Released by Mira") for text in shown.screen.texts())
    assert "Release B2 for use" not in shown.screen.texts()


def test_why_a_cycle_ended_is_said_in_the_language_in_use(open_screen: Opener) -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.wait(2)
    scene.give("undo", "B2")
    scene.receive("B5", 5)
    scene.walk("B5", lambda lane: lane.step.id == "leak-test")
    scene.wait(2)
    scene.give("look", "B5", outcome="leak")
    scene.walk("B5")
    pseudo.use()
    try:
        for tag in ("B2", "B5"):
            shown = Shown(open_screen(412, 892), scene, "ledger")
            shown.tap(tag)
            own = ("demo B", "bronchoscopy", "room nurse", "Joss")
            assert [text for text in shown.all_texts() if pseudo.left_in_english(text, own)] == []
    finally:
        words.use_language("en")
