"""Forms of the Setup by touch: pouring and discarding baths, dates, and what is refused or not recorded."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from harness import Screen
from lead_scene import Scene, Shown, in_soak

from screens.handover import files
from screens.offer.baths import free_label
from screens.setup.claim_words import claim_option
from screens.setup.unit import zones_like
from tests.faults import FaultyDisk

Opener = Callable[..., Screen]


def _open(open_screen: Opener, scene: Scene, key: str = "setup") -> Shown:
    return Shown(open_screen(412, 892), scene, key)


# --- baths


def test_only_enabled_manual_claims_can_be_chosen_and_the_others_say_why() -> None:
    options = {claim.id: claim_option(claim) for claim in Scene().door.shelf.claims.values()}
    assert options["opa-055-20c"].why_not == ""
    # 12 min at 20 °C, 14 days: CDC 2008 guideline, Table 4.
    assert options["opa-055-20c"].under == "12 min at 20 °C or warmer, in use for 14 days"
    assert "machines only" in options["opa-055-25c-machine"].why_not
    assert "sterilant" in options["h2o2-83-paa-70-sterilant"].why_not
    assert "rest on memory" in options["glut-34-25c"].why_not
    # Its figures were read; that it is for one scope only is from memory.
    assert "not enough" in options["hocl-400-ppm"].why_not
    for name, claim in Scene().door.shelf.claims.items():
        assert bool(options[name].why_not) is not (claim.enabled and claim.use == "manual")


def test_a_claim_that_may_not_be_used_takes_no_press(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-bath")
    shown.tap("Next: What it is", "Disinfectant", "Next: Chemistry and its claim")
    page = shown.page
    shown.tap("OPA 0.55 %, machine only, 25 °C")
    assert shown.page is page
    assert "for machines only, never for a manual soak" in shown.screen.texts()


def test_what_must_be_activated_asks_for_the_day(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-bath")
    shown.tap(
        "Next: What it is", "Disinfectant", "Next: Chemistry and its claim", "Glutaraldehyde 2 % and more, society"
    )
    shown.tap("Next: Lot number")
    shown.scan("9")
    shown.tap("Next: Printed expiry date")
    shown.scan("2027-06-30")
    shown.tap("Next: Container opened on", "Yesterday", "Next: Activated or diluted on", "Today")
    shown.tap("Poured: H2")
    bath = scene.door.unit.baths["H2"]
    assert (bath.opened, bath.activated, bath.needs_activation) == ("2026-11-24", "2026-11-25", True)


def test_a_refused_pouring_keeps_what_was_given(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-bath")
    shown.tap("Next: What it is", "Detergent", "Next: Lot number")
    shown.scan("9")
    shown.tap("Next: Printed expiry date")
    shown.scan("2025-12-31")
    count = len(scene.kinds())
    shown.tap("Next: Container opened on", "Today", "Poured: W1")
    assert len(scene.kinds()) == count
    assert any("the printed expiry ended on 31 Dec 2025" in text for text in shown.screen.texts())
    assert "31 Dec 2025" in shown.screen.texts()
    shown.tap("31 Dec 2025")
    shown.scan("2027-12-31")
    shown.tap("Poured: W1")
    assert scene.door.unit.baths["W1"].expires == "2027-12-31"


def test_a_bath_is_discarded_with_a_reason_and_whoever_lies_in_it_is_named(open_screen: Opener) -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", in_soak("disinfectant"))
    shown = _open(open_screen, scene, "setup-baths")
    shown.tap("OPA 0.55 %, manual, 20 °C", "Discard it", "spilled or soiled")
    assert any(text.startswith("B2 still in H1") for text in shown.screen.texts())
    count = len(scene.kinds())
    shown.tap("No, go back")
    assert len(scene.kinds()) == count
    shown.tap("OPA 0.55 %, manual, 20 °C", "Discard it", "spilled or soiled", "Discard H1")
    assert (scene.last_line()["kind"], scene.last_line()["data"]["reason"]) == ("close-bath", "spilled or soiled")
    assert "H1" not in shown.screen.texts()
    assert free_label(scene.door.unit, "disinfectant") == "H1"


# --- forms and dates


def test_a_date_is_read_back_and_nonsense_is_not_taken(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-bath")
    shown.tap("Next: What it is", "Detergent", "Next: Lot number")
    shown.scan("9")
    shown.tap("Next: Printed expiry date", "2", "7", ".", "0", "2", "3", "0")
    assert "2027-02-30" in shown.screen.texts()
    shown.tap("Done")
    assert "2027-02-30 is not a date" in shown.screen.texts()
    shown.tap("Erase", "Erase", "2", "8")
    assert "Take 28 Feb 2027" in shown.screen.texts()
    shown.tap("Done")
    assert "28 Feb 2027" in shown.screen.texts()


def test_back_never_loses_what_was_given_unasked(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-scopes")
    shown.tap("Add a scope", "Next: Tag")
    shown.scan("B8")
    count = len(scene.kinds())
    shown.tap("Back")
    assert "What you typed is not kept. Leave it?" in shown.screen.texts()
    shown.tap("Stay here")
    assert "B8" in shown.screen.texts()
    shown.tap("Back", "Leave")
    assert shown.page.key == "setup-scopes"
    shown.tap("Add a scope")
    assert "B8" not in shown.screen.texts()
    assert len(scene.kinds()) == count


def test_what_lies_under_a_question_is_not_lost_unasked_either(open_screen: Opener) -> None:
    """A code of another handheld leads away from wherever it is scanned."""
    scene = Scene()
    shown = _open(open_screen, scene, "setup-scopes")
    shown.tap("Add a scope", "Next: Tag")
    shown.scan("B8")
    shown.tap("Next: Protocol")
    shown.scan(files.codes(files.own_key(scene.door, scene.disk))[0])
    assert "What you typed is not kept. Leave it?" in shown.screen.texts()
    shown.tap("Stay here", "Back")
    assert "B8" in shown.screen.texts()


def test_nought_is_given_like_any_other_figure(open_screen: Opener) -> None:
    shown = _open(open_screen, Scene(), "setup-strips")
    shown.tap("A bottle of strips", "Time in the bath, s")
    shown.type("0")
    texts = shown.screen.texts()
    assert texts[texts.index("Time in the bath, s") - 1] == "0"


def test_a_full_disk_is_said_and_nothing_is_shown_as_added(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-person")
    shown.tap("Next: Name")
    shown.scan("KIT")
    shown.tap("Next: Role", "technician")
    faulty = FaultyDisk(scene.disk)
    faulty.fill()
    scene.door.journal._disk = faulty
    shown.tap("Add Kit")
    assert any(text.startswith("NOT recorded") for text in shown.screen.texts())
    assert shown.page.key == "setup-person"
    assert "kit" not in scene.door.unit.people
    faulty.mend()
    shown.tap("Add Kit")
    assert "kit" in scene.door.unit.people


def test_zones_are_found_by_their_city() -> None:
    assert "Europe/Berlin" in zones_like("BERL")
    assert "America/New_York" in zones_like("NEW YORK")
    assert "America/Port-au-Prince" in zones_like("PORT AU")
    assert zones_like("QQ") == []
    assert not any(zone.startswith("Etc/") for zone in zones_like(""))


# --- test strips


def test_a_bottle_of_strips_is_registered_and_its_lot_controlled_by_touch(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-strips")
    before = set(scene.door.unit.strips)
    shown.tap("A bottle of strips", "Next: What they show", "OPA 0.3 %", "Next: Label on the bottle")
    shown.scan("S9")
    shown.tap("Next: Lot number")
    shown.scan("L-77")
    shown.tap("Next: Printed expiry date")
    shown.scan("2027-06-30")
    shown.tap("Next: Opened on", "Today", "Registered: S9")
    assert set(scene.door.unit.strips) - before == {"S9"}
    assert scene.door.unit.strips["S9"].controlled is False
    shown.tap("Yes, all of them")
    bottle = scene.door.unit.strips["S9"]
    assert (bottle.lot, bottle.type, bottle.controlled) == ("L-77", "OPA 0.3 %", True)
    assert "its lot was tested" in " ".join(shown.screen.texts())


@pytest.mark.parametrize("scanned", ["inf", "nan", "1e3", "1_000", "0x10", "-5", "9" * 24])
def test_a_scan_that_is_no_plain_number_is_asked_for_again(open_screen: Opener, scanned: str) -> None:
    scene = Scene()
    shown = Shown(open_screen(412, 892), scene, "setup-unit")
    before = scene.door.unit.settings.lock_after_s
    shown.tap("Sign out when idle")
    shown.scan(scanned)
    assert f"{scanned} is not a number" in shown.screen.texts()
    assert scene.door.unit.settings.lock_after_s == before
    shown.scan("2,5")
    assert scene.door.unit.settings.lock_after_s == 150
