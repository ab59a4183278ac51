"""Scopes between their cycles by touch: issue, the delay, quarantine and the way back, upkeep, the shift's handover."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, TECHNICIAN, Scene, Shown, in_soak, two_cycles

from protocols.clock import wall_text
from protocols.whereabouts import Place, place_of

Opener = Callable[..., Screen]


def ended(scene: Scene, minutes: float) -> str:
    return wall_text(scene.clock.true_ms - round(minutes * 60_000), "UTC")


def troubled() -> Scene:
    """B2 stored, C4 not come in for 72 min, D6 in quarantine, and something due of each kind."""
    scene = two_cycles()
    scene.give("release", "B2", LEAD)
    scene.give("procedure-ended", "U9", case="26-9911", procedure_end=ended(scene, 72))
    scene.give("report-fault", "D6", kind="damage", text="buckled near the tip", owner="Mira")
    scene.give("record-competency", TECHNICIAN, LEAD, what="duodenoscopes", done="2025-11-01", until="2026-11-10")
    scene.give("record-filter", "sink 1", what="rinse water", done="2026-10-01", until="2026-12-01")
    scene.give("record-culture", "G7", taken="2026-11-01", result="none", reference="C-1", until="2026-11-20")
    return scene


def test_a_released_scope_is_issued_to_a_case_and_its_procedure_ends(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "scope", tag="B2")
    assert "Stored" in shown.screen.texts() and "Not released for use." in " ".join(shown.screen.texts())
    shown.tap("Release B2 for use", "Mira", "Release B2")
    shown.tap("Issue B2 to a case")
    shown.type("26")
    assert place_of(scene.door.unit, "B2") is Place.IN_USE
    assert "In use" in shown.screen.texts()
    shown.tap("Procedure over, not come in", "When was it over?", "5 min ago", "B2: the delay runs")
    assert place_of(scene.door.unit, "B2") is Place.WAITING
    scene.wait(60)
    shown.shell.tick()
    assert any("over since 6:0" in text for text in shown.screen.texts())


def test_the_watch_shows_who_has_not_come_in_with_the_clock_running(open_screen: Opener) -> None:
    scene = troubled()
    shown = Shown(open_screen(412, 892), scene, "watch")
    texts = shown.screen.texts()
    assert "procedure over, not come in" in texts and "Not come in, 1:12:00" in texts and "OVER 12:00" in texts
    assert "Watch 1" in texts
    scene.wait(61)
    shown.shell.tick()
    shown.settle()
    assert "Not come in, 1:13:01" in shown.screen.texts()
    whole = shown.all_texts()
    assert "Held, not for use" in whole and "damage: buckled near the tip" in " ".join(whole)
    assert {"Joss: duodenoscopes", "was due 10 Nov", "Culture of G7", "Filter sink 1: rinse water"} <= set(whole)


@pytest.mark.parametrize(("width", "height", "scale"), SIZES)
def test_every_page_is_whole_at_every_size(open_screen: Opener, width: int, height: int, scale: float) -> None:
    scene = troubled()
    scene.receive("B5", 10, "26-4")
    scene.walk("B5", in_soak("disinfectant"))
    scene.give("hand-shift", TECHNICIAN, LEAD)
    scene.give("pair-handheld", "hh-2", LEAD, public_key="ab" * 32)
    shown = Shown(open_screen(width, height, scale), scene, "watch")
    shown.leaves()
    for tag in ("B2", "C4", "D6", "U9", "B5"):
        shown.go("scope", tag=tag)
        shown.leaves()
    for key in ("upkeep", "handover", "setup", "setup-scopes"):
        shown.go(key)
        shown.leaves()
    for key in ("scope-ended", "scope-fault", "scope-return"):
        shown.go(key, tag="D6", fresh=True)
        shown.leaves()
    for key in ("upkeep-competency", "upkeep-filter", "upkeep-culture"):
        shown.go(key, fresh=True)
        shown.leaves()


@pytest.mark.parametrize(("filters", "words"), [(5, "1 more is due soon"), (6, "2 more are due soon")])
def test_what_is_due_soon_beyond_the_rows_is_counted(open_screen: Opener, filters: int, words: str) -> None:
    scene = Scene()
    for number in range(filters):
        scene.give("record-filter", f"sink {number}", what="rinse water", done="2026-11-20", until="2026-12-01")
    assert f"{words}: Setup, Upkeep" in Shown(open_screen(412, 892), scene, "watch").all_texts()


def test_a_fault_is_reported_and_the_scope_comes_back_by_its_checks(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "scope", tag="B2")
    shown.tap("Report a fault", "What is wrong?", "Damage", "In words")
    shown.type("CUT")
    shown.tap("Put B2 into quarantine")
    assert place_of(scene.door.unit, "B2") is Place.HELD
    shown.tap("Decontaminated: how?")
    shown.type("WIPED")
    shown.tap("Sent for repair: to whom?")
    shown.type("MAKER")
    assert place_of(scene.door.unit, "B2") is Place.AWAY
    shown.tap("Checks passed, take it back", "Leak test", "Leak test passed", "Inspection", "Looks sound, channels")
    shown.tap("B2: record the checks")
    assert place_of(scene.door.unit, "B2") is Place.WAITING
    shown.tap("Reprocess without a case", "Reprocess without a case")
    assert place_of(scene.door.unit, "B2") is Place.IN_CYCLE


def test_past_its_hang_time_a_scope_offers_nothing_but_to_be_reprocessed(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.give("release", "B2", LEAD)
    scene.wait(8 * 86_400)
    shown = Shown(open_screen(412, 892), scene, "scope", tag="B2")
    texts = shown.all_texts()
    assert "its hang time is over" in texts and not any(text.startswith("Issue") for text in texts)


def test_who_comes_in_looks_at_each_running_soak(open_screen: Opener) -> None:
    scene = Scene()
    scene.receive("B5", 10, "26-4")
    scene.walk("B5", in_soak("disinfectant"))
    shown = Shown(open_screen(412, 892), scene, "handover")
    shown.tap("Hand the shift over", "Joss")
    assert "For Joss, from Mira" in shown.screen.texts()
    shown.tap("Seen")
    line = [line for line in scene.door.journal.lines() if line["kind"] == "acknowledge"][-1]
    assert (line["by"], line["subject"]) == (TECHNICIAN, "B5")
    assert "For Joss, from Mira" not in shown.screen.texts()


def test_upkeep_is_recorded_by_touch(open_screen: Opener) -> None:
    scene = Scene()
    shown = Shown(open_screen(412, 892), scene, "upkeep")
    shown.tap("Filter changed", "Filter, its label")
    shown.type("F1")
    shown.tap("Which kind (water, air)")
    shown.type("AIR")
    page = shown.page
    page.put("done", "2026-11-20")
    shown.settle()
    shown.tap("Record it")
    assert scene.door.unit.upkeep["filter/F1/AIR"].done == "2026-11-20"


def test_a_scope_on_loan_is_registered_with_the_serial_of_its_label(open_screen: Opener) -> None:
    scene = Scene()
    shown = Shown(open_screen(412, 892), scene, "setup-scope", fresh=True)
    shown.scan("L9")
    # GTIN with its check digit (GS1 General Specifications, 7.9) and a serial number, as a GS1-128 scanner sends them.
    shown.scan("]C1010950600013435221SN-4711")
    page = shown.page
    page.put("protocol", "gastroscope")
    page.put("loaner", True)
    page.put("loaned_until", "2026-12-31")
    shown.settle()
    shown.leaves()
    shown.tap("Add L9")
    scope = scene.door.unit.scopes["L9"]
    assert (scope.serial, scope.loaner, scope.loaned_until) == ("SN-4711", True, "2026-12-31")
    shown.go("scope", tag="L9")
    assert any("31 Dec 2026" in text for text in shown.screen.texts())
