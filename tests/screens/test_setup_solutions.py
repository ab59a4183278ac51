"""Containers, chemistries and limits by touch, each looked up in the record; the dilution helper against CDC's sums."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, TECHNICIAN, Scene, Shown

from protocols.claims import claims_of
from protocols.labels import SEPARATOR
from screens import languages
from screens.setup.claim_words import why_not

Opener = Callable[..., Screen]
# A label of an invented product: GTIN, expiry and lot, the separator between lot and serial as ASCII 29.
SCAN = f"]C1010123456789012817270630{'10'}GLUT-22{SEPARATOR}21889"


def _open(open_screen: Opener, scene: Scene, key: str, **what: Any) -> Shown:
    return Shown(open_screen(412, 892), scene, key, **what)


def _find(shown: Shown, words: str) -> None:
    """Turn leaves until the words are on the screen."""
    for _ in range(30):
        if any(words in text for text in shown.screen.texts()):
            return
        shown.tap("More below")
    raise AssertionError(f"{words!r} is on no leaf")


# --- containers


def test_a_scanned_container_is_registered_and_a_bath_poured_from_it_by_touch(open_screen: Opener) -> None:
    scene = Scene()
    scene.desk.by = TECHNICIAN
    shown = _open(open_screen, scene, "setup")
    _find(shown, "Containers")
    shown.tap("Containers", "Open a container", "Next: What it is", "Disinfectant", "Next: Chemistry and its claim")
    _find(shown, "Glutaraldehyde 2 % and more, label time")
    shown.tap("Glutaraldehyde 2 % and more, label time")
    shown.scan(SCAN)
    texts = shown.screen.texts()
    assert "GLUT-22" in texts and "30 Jun 2027" in texts
    shown.tap("Next: Our label on the container")
    shown.type("K1")
    shown.tap("Next: Opened on", "Yesterday", "Registered: K1")
    held = scene.door.unit.containers["K1"]
    assert (held.lot, held.expires, held.opened, held.gtin) == ("GLUT-22", "2027-06-30", "2026-11-24", "01234567890128")
    assert (held.registered_by, held.activated) == (TECHNICIAN, "")
    assert any(text.startswith("registered by Joss") for text in shown.screen.texts())
    shown.tap("K1", "Pour a bath from it")
    assert "Lot number" not in shown.screen.texts(), "the container knows its dates"
    shown.tap("Next: Activated or diluted on", "Today", "Poured: H2")
    bath = scene.door.unit.baths["H2"]
    assert (bath.container, bath.lot, bath.activated, bath.poured_by) == (held.uid, "GLUT-22", "2026-11-25", TECHNICIAN)


def test_a_label_without_separators_is_refused_with_the_reason(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-container")
    shown.tap("Next: What it is", "Detergent", "Next: Our label on the container")
    shown.type("K2")
    shown.tap("Next: Lot number")
    shown.scan("01012345678901281727063010GLUT-2221889")
    assert any("the scanner sent no separators" in text for text in shown.screen.texts())
    assert "lot" not in shown.page.values
    shown.tap("Next: Lot number")
    shown.type("D-9")
    shown.tap("Next: Printed expiry date")
    shown.scan("2027-06-30")
    shown.tap("Next: Opened on", "Today", "Registered: K2")
    assert scene.door.unit.containers["K2"].lot == "D-9"
    shown.tap("K2", "Discard it", "empty")
    assert scene.door.unit.containers["K2"].closed == "empty"


def test_a_standing_bath_is_topped_up_and_a_misread_strip_corrected(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-baths")
    shown.tap("H1")
    assert "no open container holds the same solution" in shown.screen.texts()
    shown.tap("Back")
    given = {"kind": "disinfectant", "claim": "opa-055-20c", "lot": "T-1", "expires": "2026-12-01",
             "opened": "2026-11-25"}  # fmt: skip
    scene.give("register-container", "K3", **given)
    scene.receive("B2")
    scene.give("strip-test", "H1", scope="B2", result="fail", strip_lot="STRIP-07")
    shown.go("setup-baths")
    shown.tap("H1", "Its strip was misread (lead)", "Its strip was misread (lead)")
    assert scene.door.unit.baths["H1"].failed is False
    shown.tap("H1", "Top it up", "K3  OPA 0.55 %, manual, 20 °C")
    assert scene.last_line()["kind"] == "top-up"
    assert scene.door.unit.baths["H1"].expires == "2026-12-01", "the earliest of all dates wins"


# --- chemistries


def test_every_claim_is_listed_with_figures_sources_and_why_it_can_not_be_used(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-chemistries")
    listed = shown.all_texts()
    claims = claims_of(scene.door.unit, scene.door.shelf.claims).values()
    assert len(claims) >= 25
    for claim in claims:
        assert claim.title in listed
        assert not why_not(claim) or why_not(claim) in listed
    for claim in claims:
        shown.go("setup-claim", claim=claim.id)
        texts = " | ".join(shown.all_texts())
        assert claim.contact_s_min.source in texts
        assert claim.contact_s_min.how != "memory" or "from memory, unverified" in texts
        assert bool(why_not(claim)) is ("Can't be picked for a manual soak" in texts)
        assert (claim.use == "manual") is ("Confirm it by the label in hand" in texts)
    shown.go("setup-claim", claim="glut-2-label-25c")
    texts = " | ".join(shown.all_texts())
    # NIOSH 2001-115 as reported: nitrile or butyl, never latex; OSHA-based course: flush eyes at least 15 min.
    assert "Nitrile or butyl, never latex" in texts and "at least 15 min" in texts
    shown.go("setup-claim", claim="opa-055-20c")
    texts = " | ".join(shown.all_texts())
    # CDC 2008 guideline, Table 5: stains; a bench study of 2012: not for urological instruments.
    assert "Stains skin" in texts and "Urological instruments" in texts


def test_a_claim_from_memory_is_confirmed_by_a_lead_from_the_label_and_then_may_be_poured(open_screen: Opener) -> None:
    scene = Scene()
    scene.desk.by = TECHNICIAN
    name, title = "h2o2-10-paa-008", "Hydrogen peroxide 1.0 % / peracetic acid 0.08 %, manual"
    shown = _open(open_screen, scene, "setup-claim", claim=name)
    shown.tap("Confirm it by the label in hand", "Next: Which label was read")
    shown.type("REV 4")
    shown.tap("The label allows a manual soak", "Next: Contact time, minutes")
    shown.type("20")
    shown.tap("Next: Lowest temperature, °C")
    shown.type("20")
    shown.tap("Next: Reuse life, days")
    shown.type("14")
    before = len(scene.kinds())
    shown.tap("Confirm by this label", "Mira", "Confirm it")
    # Peer-reviewed summary 2016, Table 1: 25 min; a shorter label is another product.
    assert any("contact time of 1200 is laxer than what was read, 1500" in text for text in shown.screen.texts())
    assert len(scene.kinds()) == before
    shown.tap("20 min")
    shown.tap("Erase", "Erase")
    shown.type("25")
    shown.tap("Confirm by this label", "Mira", "Confirm it")
    assert (scene.last_line()["kind"], scene.last_line()["by"]) == ("confirm-claim", LEAD)
    texts = " | ".join(shown.all_texts())
    assert "confirmed by Mira" in texts and "REV 4" in texts and "from the label or IFU" in texts
    assert "Can't be picked" not in texts
    shown.go("setup-bath", kind="disinfectant", fresh=True)
    shown.tap("Next: Chemistry and its claim")
    _find(shown, title)
    shown.tap(title)
    assert shown.page.values["claim"] == name


# --- limits


def test_a_lead_sees_the_disagreement_chooses_and_the_choice_shows_who_made_it(open_screen: Opener) -> None:
    scene = Scene()
    scene.desk.by = TECHNICIAN
    shown = _open(open_screen, scene, "setup-limits")
    assert shown.screen.texts().count("none chosen: the protocol's own figures hold") == 5
    shown.tap("Storage, hang time")
    texts = " | ".join(shown.all_texts())
    limits = scene.door.shelf.limits
    assert limits.disagree["storage"] in texts
    for one in limits.sets.values():
        assert (one.title in texts) is (one.kind == "storage")
        assert one.kind != "storage" or one.known.split(";")[0] in texts
    shown.page._leaves.to_top()
    shown.settle()
    _find(shown, "Australia: 72 h")
    shown.tap("Australia: 72 h", "Mira")
    assert any(limits.disagree["storage"] in text for text in shown.screen.texts()), "once more before the yes"
    shown.tap("Read, and chosen")
    line = scene.last_line()
    assert (line["kind"], line["by"], line["data"]["chosen"]["id"]) == ("choose-limits", LEAD, "storage-australia-72h")
    assert line["data"]["rivals"]
    shown.page._leaves.to_top()
    shown.settle()
    assert "Australia: 72 h; chosen by Mira, 25 Nov 2026" in shown.screen.texts()
    assert "this one holds" in " | ".join(shown.all_texts())
    shown.go("setup-limit", kind="storage")
    _find(shown, "By the unit's own risk assessment")
    shown.tap("By the unit's own risk assessment", "Mira")
    shown.type("9")
    shown.tap("Read, and chosen")
    assert scene.door.unit.limits["storage"].hang_s_max == 9 * 86_400
    shown.go("setup-limit", kind="storage")
    shown.tap("Back to the protocol's own figures", "Mira", "Back to the protocol's own figures")
    assert scene.door.unit.limits.get("storage") is None


# --- strip bottles


def test_a_wrong_control_discards_the_bottle_and_a_window_is_kept(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-strips")
    shown.tap("A bottle of strips", "Next: What they show", "OPA 0.3 %", "Next: Label on the bottle")
    shown.type("S9")
    shown.scan(SCAN)
    shown.tap("Next: Opened on", "Today", "Read before, s")
    shown.type("90")
    shown.tap("Registered: S9", "Not yet")
    bottle = scene.door.unit.strips["S9"]
    assert (bottle.lot, bottle.expires, bottle.read_s_max) == ("GLUT-22", "2027-06-30", 90)
    shown.tap("S9", "A control strip showed the opposite", "A control strip showed the opposite")
    assert scene.door.unit.strips["S9"].closed == "failed its control"
    shown.tap("STRIP-07", "Discard it", "no longer usable")
    assert scene.door.unit.strips["STRIP-07"].closed == "no longer usable"


# --- dilution


def test_the_dilution_helper_gives_cdcs_worked_examples(open_screen: Opener) -> None:
    """CDC, Appendix E: 5.25 % to 0.5 % takes 9.5 parts of water; 35 % powder to 0.5 % takes 14.3 g to 1 L."""
    scene = Scene()
    before = len(scene.kinds())
    shown = _open(open_screen, scene, "setup-dilute")
    for field, typed, unit in (("stock", "5.25", "%"), ("target", "0.5", "%")):
        shown.tap({"stock": "Next: Strength of the stock", "target": "Next: Strength wanted"}[field])
        shown.type(typed)
        shown.tap(f"Next: Unit of {'the stock' if field == 'stock' else 'the strength'}", unit)
    assert "1 part of stock and 9.5 parts of water." in shown.screen.texts()
    shown.tap("How much in all")
    shown.type("10")
    shown.tap("Unit of how much", "L")
    assert any("952.4 mL of stock and 9048 mL of water" in text for text in shown.screen.texts())
    shown.tap("Another sum")
    shown.page.values.update(powder=True, stock=35, stock_unit="%", target=0.5, target_unit="%")
    shown.shell.look()
    shown.settle()
    assert "14.29 g of powder to 1 L of water." in shown.screen.texts()
    shown.page.values.update(powder=False, stock=0.1)
    shown.shell.look()
    shown.settle()
    assert any("no water makes it stronger" in text for text in shown.screen.texts())
    assert len(scene.kinds()) == before


@pytest.mark.parametrize(("stock", "words"), [(0.1, "kein Wasser macht es stärker"), (0, "außerhalb von 0 bis 100 %")])
def test_why_a_dilution_makes_no_sense_is_said_in_the_language_in_use(
    open_screen: Opener, stock: float, words: str
) -> None:
    languages.use("de")
    try:
        shown = _open(open_screen, Scene(), "setup-dilute")
        shown.page.values.update(stock=stock, stock_unit="%", target=0.5, target_unit="%")
        shown.shell.look()
        texts = shown.screen.texts()
    finally:
        languages.use("en")
    assert any(words in text for text in texts)


# --- looks

PAGES = ("setup-containers", "setup-container", "setup-limits", "setup-limit", "setup-dilute", "setup-strips",
         "setup-strip", "setup-baths")  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_clipped_on_any_page(open_screen: Opener, size: tuple[float, ...]) -> None:
    scene = Scene()
    scene.give("register-container", "K3", kind="disinfectant", claim="opa-055-20c", lot="T-1", expires="2026-12-01",
               opened="2026-11-25", activated="2026-11-25")  # fmt: skip
    shown = Shown(open_screen(*size), scene, "setup")
    for key in PAGES:
        shown.go(key)
        assert shown.leaves()
    for claim in ("glut-2-label-25c", "h2o2-20-accelerated"):
        shown.go("setup-claim", claim=claim)
        assert shown.leaves()
    shown.go("setup-confirm", claim="h2o2-20-accelerated", fresh=True)
    assert shown.leaves()
    shown.go("setup-bath", fresh=True, container="K3")
    assert shown.leaves()


def test_kinds_of_strips_are_named_in_the_language_in_use(open_screen: Opener) -> None:
    languages.use("de")
    try:
        shown = Shown(open_screen(412, 892), Scene(), "setup-claim", claim="glut-2-society-20c")
        shown.go("setup-confirm", claim="glut-2-society-20c", fresh=True)
        while "Teststreifen" not in shown.screen.texts():
            shown.tap("Mehr unten")
        shown.tap("Teststreifen")
        texts = shown.screen.texts()
    finally:
        languages.use("en")
    assert "Glutaraldehyd 1.5 %" in texts and "glutaraldehyde 1.5 %" not in texts
