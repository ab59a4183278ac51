"""Old weeks by touch: how many are kept, what was sent, the oldest purged once its export was read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import goldens
import pytest
from harness import Screen
from lead_scene import SIZES, TECHNICIAN, Scene, Shown
from send_scene import STICK, beat, sending_shown

from data.audit import Audit
from data.destinations.folder import FolderDestination
from data.send import send_waiting
from data.send_place import Place
from data.signing import KEY_FILE, signer_of
from data.stubs import FOLDER
from protocols.errors import DiskError

Opener = Callable[..., Screen]
WEEK_S = 7 * 86_400
FIRST, SECOND, THIRD = "2026-W48", "2026-W49", "2026-W50"


def three_weeks(stick: Path) -> Scene:
    """A unit in its third week, whose first two have been sent to a stick."""
    scene = Scene()
    for seconds in (31, 32):
        scene.wait(WEEK_S)
        scene.give("set-unit", "unit", "mira", soon_s=seconds)
    place = FolderDestination(stick)
    list(send_waiting(scene.disk, scene.door.journal, place, signer_of(scene.disk), lambda: "then", lambda line: None))
    return scene


@pytest.fixture
def shown(open_screen: Opener, tmp_path: Path) -> Shown:
    scene = three_weeks(tmp_path)
    shown = Shown(open_screen(412, 892), scene, "setup")
    shown.sending.go_to(Place(str(tmp_path)))
    return shown


def purge(shown: Shown) -> None:
    shown.tap(f"Purge {FIRST}", f"Purge {FIRST}")
    shown.sending.background.finish()
    shown.settle()


def test_nothing_can_be_purged_until_the_unit_says_how_long_weeks_are_kept(shown: Shown, tmp_path: Path) -> None:
    shown.tap("More below, 1 of 2", "Old weeks")
    texts = shown.all_texts()
    assert "all: nothing is ever purged" in texts and "No week is older than the unit keeps" in texts
    assert {FIRST, SECOND, THIRD, "still open", f"arrived whole: {tmp_path.name}", "not sent yet"} >= {
        text for text in texts if text.startswith(("2026-W", "arrived", "not sent"))
    }
    shown.tap("Weeks kept besides the running one")
    shown.type("1")
    assert shown.scene.door.unit.settings.keep_weeks == 1
    assert f"Purge {FIRST}" in shown.screen.texts()


def test_a_lead_purges_the_oldest_week_after_its_export_was_read_back(shown: Shown, tmp_path: Path) -> None:
    scene = shown.scene
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    shown.go("setup-weeks")
    shown.tap(f"Purge {FIRST}")
    assert any("leaves this handheld for good" in text for text in shown.screen.texts())
    shown.tap(f"Purge {FIRST}")
    shown.sending.background.finish()
    shown.settle()
    assert scene.last_line()["kind"] == "purge" and scene.door.journal.segments() == [SECOND, THIRD]
    assert any(f"Purged up to {FIRST}; that one lies at {tmp_path.name}" in text for text in shown.all_texts())
    assert "No week is older than the unit keeps" in shown.screen.texts()
    assert list(Audit(scene.disk, [], pause=lambda seconds: None).differences()) == []


def test_a_cycle_that_left_with_its_week_does_not_lead_to_the_one_under_way(
    open_screen: Opener, tmp_path: Path
) -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2")
    scene.wait(WEEK_S)
    scene.give("void", "B2", "mira", reason="wrong tag")
    scene.receive("B2", 5, "26-5000")
    scene.pour("disinfectant", "H2")
    scene.give("close-bath", "H1", "mira", reason="end of the day")
    scene.wait(WEEK_S)
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    place = FolderDestination(tmp_path)
    list(send_waiting(scene.disk, scene.door.journal, place, signer_of(scene.disk), lambda: "then", lambda line: None))
    shown = Shown(open_screen(412, 892), scene, "setup")
    shown.sending.go_to(Place(str(tmp_path)))
    shown.go("setup-weeks")
    purge(shown)
    assert scene.door.journal.segments() == [SECOND, THIRD]
    shown.go("look-back", kind="scope", about="B2")
    page = shown.page
    shown.tap("voided")
    assert shown.page is page
    shown.tap("under way, since")
    assert shown.page.what == {"tag": "B2"}


def test_what_can_not_be_read_back_stays_and_says_why(shown: Shown, tmp_path: Path) -> None:
    scene = shown.scene
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    (tmp_path / "scene" / FIRST / "cycles.csv").write_bytes(b"")
    shown.go("setup-weeks")
    purge(shown)
    assert scene.door.journal.segments() == [FIRST, SECOND, THIRD] and scene.last_line()["kind"] == "set-unit"
    assert any("nothing was purged" in text for text in shown.screen.texts())


def test_a_technician_is_told_to_call_a_lead(shown: Shown) -> None:
    scene = shown.scene
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    scene.desk.by = TECHNICIAN
    shown.go("setup-weeks")
    purge(shown)
    assert scene.door.journal.segments() == [FIRST, SECOND, THIRD]
    assert any("needs a lead" in text for text in shown.screen.texts())


def test_a_key_that_can_not_be_read_is_said_and_nothing_is_purged(shown: Shown) -> None:
    scene = shown.scene
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    scene.disk.replace(KEY_FILE, b"no key")
    shown.go("setup-weeks")
    shown.tap(f"Purge {FIRST}", f"Purge {FIRST}")
    assert any(KEY_FILE in text for text in shown.screen.texts())
    assert scene.door.journal.segments() == [FIRST, SECOND, THIRD]


def test_stubs_are_looked_for_on_entering_and_not_every_second(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    shown.go("setup-weeks")

    names, asked = shown.scene.disk.names, []
    monkeypatch.setattr(shown.scene.disk, "names", lambda folder: [*names(folder), *(asked.append(folder) or ())])
    shown.page.refresh()
    assert set(asked) <= {"journal"}


def test_a_week_that_arrives_while_the_page_is_shown_is_said_to_have(open_screen: Opener, tmp_path: Path) -> None:
    scene = Scene()
    scene.wait(WEEK_S)
    scene.give("set-unit", "unit", "mira", soon_s=31)
    shown, _ = sending_shown(open_screen, tmp_path, scene)
    shown.sending.go_to(Place(STICK))
    shown.go("setup-weeks")
    assert "arrived whole: stick" not in shown.screen.texts()
    beat(shown)
    assert "arrived whole: stick" in shown.screen.texts()


def test_stubs_that_can_not_be_looked_for_are_said(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    names = shown.scene.disk.names

    def failing(folder: str) -> list[str]:
        if folder == FOLDER:
            raise DiskError("reading purged failed (Input/output error)")
        return names(folder)

    monkeypatch.setattr(shown.scene.disk, "names", failing)
    shown.go("setup-weeks")
    assert "reading purged failed (Input/output error)" in shown.all_texts()


@pytest.mark.parametrize("size", SIZES)
def test_every_leaf_is_whole(open_screen: Opener, tmp_path: Path, size: tuple[float, float, float]) -> None:
    (tmp_path / "stick").mkdir()
    scene = three_weeks(tmp_path / "stick")
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    shown = Shown(open_screen(*size), scene, "setup-weeks")
    shown.sending.go_to(Place("https://files.example.org/a/rather/long/way/to/where/weeks/go"))
    shown.settle()
    shown.leaves()


def test_it_looks_as_agreed(open_screen: Opener, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    scene = three_weeks(tmp_path / "stick")
    scene.give("set-unit", "unit", "mira", keep_weeks=1)
    shown = Shown(open_screen(412, 892), scene, "setup-weeks")
    goldens.check("setup-weeks-enamel", shown.screen.picture(), tmp_path)
