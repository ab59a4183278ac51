"""The Ledger as anybody uses it: by touch at coordinates, on the real door and real ledger files."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import goldens
import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, Scene, Shown, two_cycles

from data.home import ledger_path
from data.ledger import Ledger, catch_up
from data.ledger_entry import Query
from data.memory_disk import MemoryDisk
from data.opening import open_door
from data.real_disk import RealDisk
from data.rehearse.run import Plan, rehearse
from protocols.errors import RecordDamaged
from screens import languages, theme
from screens.desk import Desk
from screens.ledger.reader import BATCH, Reader
from tests.searching import searched
from tests.send.cases import put

Opener = Callable[..., Screen]
WEEK = "2026-W48"


@lru_cache(maxsize=1)
def _rehearsed() -> dict[str, bytes]:
    disk = MemoryDisk()
    rehearse(disk, Plan(6, 8, 1), lambda line: None)
    return {path: bytes(data) for path, data in disk.files.items()}


def rehearsed() -> Scene:
    """A whole rehearsed shift with more cycles than a screenful."""
    scene = Scene(empty=True)
    scene.disk = MemoryDisk(_rehearsed())
    scene.clock.advance(9 * 3600)
    scene.door = open_door(scene.disk, scene.clock, scene.door.shelf)
    scene.desk = Desk(scene.door, LEAD)
    return scene


# --- list and search


def test_newest_first_and_none_yet(open_screen: Opener) -> None:
    screen = open_screen(412, 892)
    empty = Shown(screen, Scene(), "ledger")
    assert any(text.startswith("No cycle has ended yet") for text in screen.texts())
    shown = Shown(screen, two_cycles(), "ledger")
    assert shown.cards() == ["C4", "B2"]
    assert "2 shown, newest first" in screen.texts()
    assert empty.page.background.busy is False


@pytest.mark.parametrize(
    ("way", "typed", "found"),
    [("Tag", "B2", ["B2"]), ("Case", "26-4472", ["C4"]), ("Bath lot", "LOT-0101", ["C4", "B2"]), ("Tag", "Z9", [])],
)
def test_search_typed_on_own_keys(open_screen: Opener, way: str, typed: str, found: list[str]) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(), "ledger")
    shown.tap(way)
    shown.type(typed)
    assert shown.cards() == found
    if not found:
        assert "No cycle fits this search." in shown.screen.texts()
    shown.tap("Show all again")
    assert shown.cards() == ["C4", "B2"]


def test_search_by_person_and_by_scan(open_screen: Opener) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(), "ledger")
    shown.tap("Person", "Mira")
    assert shown.cards() == []
    shown.tap("Mira", "Joss")
    assert shown.cards() == ["C4", "B2"]
    for scanned, found in (("b2", ["B2"]), ("lot-0101", ["C4", "B2"]), ("26-4472", ["C4"])):
        shown.scan(scanned)
        assert shown.cards() == found


def test_a_long_ledger_comes_a_screenful_at_a_time(open_screen: Opener) -> None:
    scene = rehearsed()
    whole = Reader(scene.disk, scene.door.journal)
    first = whole.find(Query())
    assert len(first.entries) == BATCH
    assert first.go_on is not None
    rest = whole.find(Query(), first.go_on)
    ended = [entry.ended_ms for entry in (*first.entries, *rest.entries)]
    assert ended == sorted(ended, reverse=True)
    assert len({entry.cycle for entry in (*first.entries, *rest.entries)}) == len(searched(Ledger(scene.disk)))
    shown = Shown(open_screen(412, 892), scene, "ledger")
    assert f"{BATCH} shown, newest first" in shown.screen.texts()
    while "Earlier cycles" not in shown.screen.texts():
        shown.tap("More below")
    shown.tap("Earlier cycles")
    assert f"{len(ended)} shown, newest first" in shown.screen.texts()
    assert "Earlier cycles" not in shown.all_texts()


def test_a_second_press_on_earlier_cycles_shows_none_of_them_twice(
    open_screen: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene = rehearsed()
    count = len(searched(Ledger(scene.disk))) or len(searched(_caught_up(scene)))
    shown = Shown(open_screen(412, 892), scene, "ledger")
    while "Earlier cycles" not in shown.screen.texts():
        shown.tap("More below")
    # Reading waits for the second press, or the button might have gone by then.
    find, go_on = shown.page.reader.find, threading.Event()
    monkeypatch.setattr(shown.page.reader, "find", lambda *asked: find(*asked) if go_on.wait(20) else None)
    for _ in range(2):
        scene.wait(1)
        shown.screen.tap("Earlier cycles")
    go_on.set()
    shown.settle()
    assert f"{count} shown, newest first" in shown.screen.texts()


def test_a_press_between_the_reading_and_its_showing_shows_none_of_them_twice(open_screen: Opener) -> None:
    scene = rehearsed()
    count = len(searched(_caught_up(scene)))
    shown = Shown(open_screen(412, 892), scene, "ledger")
    for _ in range(2):
        shown.page._more.dispatch("on_command")
        shown.page.background.finish()
    shown.settle()
    assert f"{count} shown, newest first" in shown.screen.texts()


def _caught_up(scene: Scene) -> Ledger:
    ledger = Ledger(scene.disk)
    catch_up(ledger, scene.door.journal)
    return ledger


def test_a_cycle_that_ended_meanwhile_is_there_when_the_page_is_entered_again(open_screen: Opener) -> None:
    scene = two_cycles()
    shown = Shown(open_screen(412, 892), scene, "ledger")
    scene.receive("G7", 5, "26-4473")
    scene.walk("G7")
    shown.go("watch")
    shown.go("ledger")
    assert shown.cards() == ["G7", "C4", "B2"]


class SlowDisk(MemoryDisk):
    """Reads ledgers only once told to go on."""

    def __init__(self, files: dict[str, bytes]) -> None:
        super().__init__(files)
        self.go_on = threading.Event()

    def names(self, folder: str) -> list[str]:
        if folder == "ledger" and threading.current_thread() is not threading.main_thread():
            self.go_on.wait(20)
        return super().names(folder)


def test_reading_that_takes_long_says_so_and_no_tap_waits_for_it(open_screen: Opener) -> None:
    scene = two_cycles()
    slow = SlowDisk({path: bytes(data) for path, data in scene.disk.files.items()})
    scene.disk = slow
    slow.go_on.set()
    shown = Shown(open_screen(412, 892), scene, "watch")
    slow.go_on.clear()
    shown.shell.go("ledger")
    shown.screen.frames(4)
    assert "reading the ledger" not in shown.screen.texts()
    scene.wait(1)
    shown.shell.tick()
    shown.screen.frames(4)
    assert "reading the ledger" in shown.screen.texts()
    assert shown.page.background.busy
    told = shown.shell.give("add-person", "new", {"name": "New", "role": "technician"})
    assert told.done
    slow.go_on.set()
    shown.settle()
    assert shown.cards() == ["C4", "B2"]
    assert "reading the ledger" not in shown.screen.texts()


# --- damage


def _damage(scene: Scene) -> bytes:
    """Change one byte of the week's ledger; give the bytes from before."""
    catch_up(Ledger(scene.disk), scene.door.journal)
    whole = scene.disk.read(ledger_path(WEEK))
    scene.disk.files[ledger_path(WEEK)][200] ^= 1
    return whole


def test_a_damaged_week_says_what_to_do_and_is_made_again_by_a_tap(open_screen: Opener) -> None:
    scene = two_cycles()
    whole = _damage(scene)
    shown = Shown(open_screen(412, 892), scene, "ledger")
    texts = shown.screen.texts()
    assert f"Week {WEEK} can't be read" in texts
    assert "Its file is not what was written. The record itself is whole: make this week again from it." in texts
    assert shown.cards() == []
    shown.tap(f"Make {WEEK} again")
    assert shown.cards() == ["C4", "B2"]
    assert scene.disk.read(ledger_path(WEEK)) == whole
    assert f"{WEEK} was made again from the record" in shown.screen.texts()


def test_a_damaged_week_hides_no_other(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.wait(7 * 86_400)
    scene.receive("G7", 5, "26-4473")
    scene.walk("G7")
    catch_up(Ledger(scene.disk), scene.door.journal)
    scene.disk.files[ledger_path(WEEK)][200] ^= 1
    shown = Shown(open_screen(412, 892), scene, "ledger")
    assert f"Week {WEEK} can't be read" in shown.screen.texts()
    assert shown.cards() == ["G7"]


def test_a_damaged_journal_leaves_the_list_and_says_so(open_screen: Opener, monkeypatch: Any) -> None:
    scene = two_cycles()
    catch_up(Ledger(scene.disk), scene.door.journal)
    scene.pour("detergent", "W1")

    def iter_segment(week: str) -> None:
        raise RecordDamaged(f"journal/{week}.jsonl, line at byte 12: it does not fit")

    monkeypatch.setattr(scene.door.journal, "iter_segment", iter_segment)
    shown = Shown(open_screen(412, 892), scene, "ledger")
    assert shown.cards() == ["C4", "B2"]
    assert any(text.startswith("The list may lack the newest cycles") for text in shown.screen.texts())
    shown.tap("B2")
    assert any(text.startswith("What came later can't be read") for text in shown.screen.texts())


# --- looks


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_clipped_on_any_leaf(open_screen: Opener, size: tuple[float, ...]) -> None:
    shown = Shown(open_screen(*size), two_cycles(late=True), "ledger")
    shown.leaves()
    shown.page._leaves.to_top()
    shown.settle()
    shown.tap("C4")
    assert any("OVER 8:00" in leaf for leaf in shown.leaves())


@pytest.mark.parametrize("look", list(theme.THEMES))
def test_it_looks_as_agreed(open_screen: Opener, tmp_path: Path, look: str) -> None:
    screen = open_screen(412, 892, look=look)
    scene = two_cycles(late=True)
    scene.give("release", "B2", LEAD)
    shown = Shown(screen, scene, "ledger")
    goldens.check(f"ledger-list-{look}", screen.picture(), tmp_path)
    shown.tap("C4")
    goldens.check(f"ledger-cycle-{look}", screen.picture(), tmp_path)


@pytest.mark.parametrize("key", ["ledger", "cycle"])
def test_what_the_disk_could_not_do_is_said_in_the_language_in_use(
    open_screen: Opener, tmp_path: Path, key: str
) -> None:
    scene = two_cycles()
    scene.disk = RealDisk(put(scene.disk.files, tmp_path))
    (tmp_path / "ledger" / "2026-W48.json").unlink(missing_ok=True)
    (tmp_path / "ledger" / "2026-W48.json").mkdir(parents=True)
    languages.use("de")
    try:
        what = {"week": "2026-W48", "cycle": "scene-1"} if key == "cycle" else {}
        texts = Shown(open_screen(412, 892), scene, key, **what).all_texts()
    finally:
        languages.use("en")
    assert any("ledger/2026-W48.json ist fehlgeschlagen" in text for text in texts), " | ".join(texts)
