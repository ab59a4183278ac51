"""The Setup by touch: the first start of an empty unit, lists and forms, each looked up in the record."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import goldens
import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, TECHNICIAN, Scene, Shown

from screens import theme
from screens.setup.people import id_of, spelled

Opener = Callable[..., Screen]


def _open(open_screen: Opener, scene: Scene, key: str = "setup") -> Shown:
    return Shown(open_screen(412, 892), scene, key)


# --- first start


def test_an_empty_unit_is_set_up_by_touch_alone(open_screen: Opener) -> None:
    scene = Scene(empty=True)
    shown = _open(open_screen, scene)
    shown.tap("3  The first scope")
    assert shown.page.key == "setup", "what comes later takes no press"
    shown.tap("1  Yourself, as an administrator", "Next: Name")
    shown.type("ALMA RUE")
    shown.tap("Add Alma Rue")
    assert (scene.desk.by, scene.door.unit.lead("alma-rue")) == ("alma-rue", True)
    shown.tap("2  The unit: name and time zone", "Time zone")
    shown.type("BERL")
    shown.tap("Europe/Berlin", "Name of the unit")
    shown.type("WARD 4")
    shown.tap("Back", "3  The first scope", "Next: Tag")
    shown.type("B2")
    shown.tap("Next: Protocol", "Bronchoscope, one channel", "Add B2")
    assert any("Its figures are to be checked against the IFU" in text for text in shown.screen.texts())
    shown.tap("Take it into use")
    shown.tap("4  The first disinfectant bath", "Next: Chemistry and its claim", "OPA 0.55 %, manual, 20 °C")
    shown.tap("Next: Lot number")
    shown.type("7Q")
    shown.tap("Next: Printed expiry date")
    shown.type("271231")
    shown.tap("Next: Container opened on", "Today", "Poured: H1")
    assert "The bench is ready. Receive the first scope on the Bench." in shown.screen.texts()
    assert scene.kinds() == ["add-person", "set-unit", "set-unit", "adopt-protocol", "add-scope", "pour-bath"]
    unit = scene.door.unit
    assert (unit.settings.name, unit.settings.zone) == ("Ward 4", "Europe/Berlin")
    bath = unit.baths["H1"]
    assert (bath.claim, bath.lot, bath.expires, bath.opened) == ("opa-055-20c", "7Q", "2027-12-31", "2026-11-25")
    shown.go("bench")
    shown.go("setup")
    assert "Signed in" in shown.screen.texts()
    assert not any(text.startswith("The bench is ready") for text in shown.screen.texts())


# --- people


def test_a_technician_is_added_and_cannot_add(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene)
    shown.tap("People", "Add a person", "Next: Name")
    shown.scan("KIT")
    shown.tap("Next: Role", "technician", "Add Kit")
    assert scene.last_line()["data"] == {"name": "Kit", "role": "technician"}
    assert "Kit" in shown.screen.texts()
    shown.shell.back()
    shown.settle()
    shown.tap("Signed in", "Kit", "People", "Add a person", "Next: Name")
    assert scene.desk.by == "kit"
    shown.scan("LOU")
    count = len(scene.kinds())
    shown.tap("Next: Role", "lead", "Add Lou")
    assert len(scene.kinds()) == count
    assert "adding a person needs a lead, “Kit” is a technician" in shown.screen.texts()
    assert "Lou" in shown.screen.texts(), "what was typed is still there"


def test_two_of_one_name_are_told_apart(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-person")
    shown.tap("Next: Name")
    shown.scan("JOSS")
    count = len(scene.kinds())
    shown.tap("Next: Role", "technician", "Add Joss")
    assert len(scene.kinds()) == count
    assert any(text.startswith("Joss is on the list already") for text in shown.screen.texts())


def test_names_and_ids() -> None:
    assert [id_of(text) for text in ("Alma Rue", "O'Neil", "  -. ", "Ünal")] == ["alma-rue", "o-neil", "", "ünal"]
    assert [spelled(text) for text in ("ALMA RUE", "Alma rue", "O'NEIL")] == ["Alma Rue", "Alma rue", "O'Neil"]


# --- scopes


def test_a_protocol_not_in_use_needs_a_lead(open_screen: Opener) -> None:
    scene = Scene()
    scene.desk.by = TECHNICIAN
    shown = _open(open_screen, scene, "setup-scope")
    shown.tap("Next: Tag")
    shown.scan("L3")
    shown.tap("Next: Protocol")
    texts = shown.screen.texts()
    assert texts.index("Bronchoscope, one channel") < texts.index("Laryngoscope without channel"), (
        "those in use come first"
    )
    shown.tap("Laryngoscope without channel", "Add L3")
    assert any(text.startswith("A lead takes a protocol into use") for text in shown.screen.texts())
    assert "Joss" not in shown.screen.texts()
    shown.tap("Mira", "Take it into use")
    assert scene.kinds()[-2:] == ["adopt-protocol", "add-scope"]
    assert [line["by"] for line in list(scene.door.journal.lines())[-2:]] == [LEAD, LEAD]
    assert scene.door.unit.scopes["L3"].protocol == "laryngoscope"


def test_a_scope_with_all_it_carries_and_a_tag_that_is_taken(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-scope")
    shown.scan("B8")
    shown.tap("Next: Protocol", "Bronchoscope, one channel", "Serial number")
    shown.scan("S-9")
    shown.tap("On loan", "Add B8")
    assert scene.last_line()["data"]["scope"] == {"protocol": "bronchoscope-1", "serial": "S-9", "loaner": True}
    shown.go("setup-scope", fresh=True)
    shown.scan("B2")
    count = len(scene.kinds())
    shown.tap("Next: Protocol", "Bronchoscope, one channel", "Add B2")
    assert len(scene.kinds()) == count
    assert "a scope with the tag “B2” is already there" in shown.screen.texts()


# --- looks

PAGES = ("setup", "setup-people", "setup-scopes", "setup-baths", "setup-unit", "setup-handheld", "setup-person",
         "setup-scope", "setup-bath")  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_clipped_on_any_page(open_screen: Opener, size: tuple[float, ...]) -> None:
    shown = Shown(open_screen(*size), Scene(), "setup")
    for key in PAGES:
        shown.go(key)
        assert shown.leaves()
    shown.tap("Next: What it is", "Disinfectant", "Next: Chemistry and its claim")
    assert len(shown.all_texts()) > 30
    empty = Shown(open_screen(*size), Scene(empty=True), "setup")
    assert any("1  Yourself, as an administrator" in leaf for leaf in empty.leaves())


@pytest.mark.parametrize("scale", [1.0, 1.3])
def test_the_date_page_fits_the_smallest_screen(open_screen: Opener, scale: float) -> None:
    shown = Shown(open_screen(360, 640, scale), Scene(), "setup-bath")
    shown.tap("Next: What it is", "Detergent", "Next: Lot number")
    shown.type("9")
    shown.tap("Next: Printed expiry date")
    shown.type("271231")
    shown.tap("Next: Container opened on")
    for label in shown.screen.shown_labels():
        assert label.y >= 0
        assert label.top <= 640
    assert shown.screen.clipped() == []


@pytest.mark.parametrize("look", list(theme.THEMES))
def test_it_looks_as_agreed(open_screen: Opener, tmp_path: Path, look: str) -> None:
    screen = open_screen(412, 892, look=look)
    Shown(screen, Scene(empty=True), "setup")
    goldens.check(f"setup-first-{look}", screen.picture(), tmp_path)
    shown = Shown(screen, Scene(), "setup")
    goldens.check(f"setup-list-{look}", screen.picture(), tmp_path)
    shown.go("setup-bath", kind="disinfectant")
    goldens.check(f"setup-bath-{look}", screen.picture(), tmp_path)
    shown.tap("Next: Chemistry and its claim")
    goldens.check(f"setup-claims-{look}", screen.picture(), tmp_path)
