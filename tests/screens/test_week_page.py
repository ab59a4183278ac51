"""The week at a glance and the other handhelds in the Watch: what is shown, at every size, and how it looks."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import goldens
import harness
import pytest
from lead_scene import LEAD, SIZES, Scene, Shown, busy, two_cycles

from data.destinations import FolderDestination
from data.destinations.errors import DestinationAway
from data.memory_disk import MemoryDisk
from data.opening import open_door
from data.rehearse.run import Plan, rehearse
from data.send import deliver
from data.send_place import Place, others_from
from data.week import week_figures
from data.week_text import counted
from protocols.clock import clock_text
from protocols.refusals import WORDS
from screens import theme
from screens.desk import Desk
from screens.watch.others import LOOK_S
from tests.send.cases import busy_week

Opener = Callable[..., harness.Screen]
WEEK, NEXT_WEEK = "2026-W48", "2026-W49"


@lru_cache(maxsize=1)
def _rehearsed() -> dict[str, bytes]:
    disk = MemoryDisk()
    rehearse(disk, Plan(8, 14, 3), lambda line: None)
    return {path: bytes(data) for path, data in disk.files.items()}


def rehearsed() -> Scene:
    """A long rehearsed shift: several families, exceptions, refusals, and enough cycles for a chart."""
    scene = Scene(empty=True)
    scene.disk = MemoryDisk(_rehearsed())
    scene.clock.advance(15 * 3600)
    scene.door = open_door(scene.disk, scene.clock, scene.door.shelf)
    scene.desk = Desk(scene.door, LEAD)
    return scene


def week_shown(open_screen: Opener, scene: Scene, *size: float, **look: str) -> Shown:
    shown = Shown(open_screen(*(size or (412, 892)), **look), scene, "watch-week")
    shown.settle()
    shown.shell.look()
    shown.settle()
    return shown


def test_it_shows_the_figures_that_the_terminal_shows(open_screen: Opener) -> None:
    scene = rehearsed()
    shown = week_shown(open_screen, scene)
    text = " | ".join(shown.all_texts())
    figures = week_figures(scene.disk, scene.door.journal, WEEK)
    assert figures.charts and figures.refusals
    for one in figures.families:
        assert one.name in text
        if one.median_s is not None and one.p90_s is not None:
            assert f"half within {clock_text(one.median_s)}, nine of ten within {clock_text(one.p90_s)}" in text
    for _, value in counted(figures)[:1] + counted(figures)[5:7]:
        assert value in text
    for rule, _ in figures.refusals:
        # A rule is told in the door's own words; what they were filled in with is not counted.
        pieces = re.split(r"\{[^}]*\}", WORDS[rule][0])
        assert all(piece.strip() in text for piece in pieces), rule
        assert f" {rule} " not in text
    assert "What went otherwise" in text and "Turnaround, " in text


def test_keys_turn_to_the_week_before_and_after(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.wait(7 * 86_400)
    scene.give("add-person", "eve", LEAD, name="Eve", role="technician")
    shown = week_shown(open_screen, scene)
    assert f"{NEXT_WEEK}, still open" in shown.screen.texts()
    assert "No cycle ended in this week." in shown.screen.texts()
    shown.tap("After")
    assert f"{NEXT_WEEK}, still open" in shown.screen.texts()
    shown.tap("Before")
    shown.settle()
    assert WEEK in shown.screen.texts() and "bronchoscope" in shown.screen.texts()
    assert "Too few cycles for limits yet: a chart needs 8 points." in shown.all_texts()
    shown.tap("After")
    shown.settle()
    assert "No cycle ended in this week." in shown.screen.texts()


def test_the_watch_leads_to_it_and_back(open_screen: Opener) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(), "watch")
    while "The week in figures" not in shown.screen.texts():
        shown.tap("More below")
    shown.tap("The week in figures")
    shown.settle()
    assert f"{WEEK}, still open" in shown.screen.texts()
    shown.tap("Back")
    assert "Watch" in shown.screen.texts()


def test_a_week_that_cannot_be_read_says_why(open_screen: Opener) -> None:
    scene = two_cycles()
    content = scene.disk.files[f"journal/{WEEK}.jsonl"]
    content[2000:2003] = b"xyz"
    shown = week_shown(open_screen, scene)
    assert any(text.startswith("The week can't be read: ") for text in shown.screen.texts())


@pytest.mark.parametrize("size", SIZES)
def test_all_of_it_shows_at_every_size(open_screen: Opener, size: tuple[float, float, float]) -> None:
    assert week_shown(open_screen, rehearsed(), *size).all_texts()


@pytest.mark.parametrize("look", sorted(theme.THEMES))
def test_it_looks_as_agreed(open_screen: Opener, tmp_path: Path, look: str) -> None:
    shown = week_shown(open_screen, rehearsed(), 412, 892, look=look)
    goldens.check(f"week-figures-{look}", shown.screen.picture(), tmp_path)
    while not any(text.startswith("Turnaround, ") for text in shown.screen.texts()):
        shown.tap("More below")
    goldens.check(f"week-charts-{look}", shown.screen.picture(), tmp_path)


# --- other handhelds


def with_others(open_screen: Opener, tmp_path: Path, *size: float) -> tuple[Shown, Path]:
    stick = tmp_path / "stick"
    stick.mkdir()
    for device in ("hh1", "hh2"):
        deliver(busy_week(device).prepared(), FolderDestination(stick))
    shown = Shown(open_screen(*(size or (412, 892))), busy(), "watch")
    shown.sending.go_to(Place(str(stick)))
    look_again(shown)
    return shown, stick


def look_again(shown: Shown) -> None:
    """Let the time pass after which others are looked at again."""
    shown.scene.wait(LOOK_S + 1)
    shown.shell.look()
    shown.page._others.background.finish()
    shown.settle()
    shown.shell.look()
    shown.settle()


@pytest.mark.parametrize("size", SIZES)
def test_other_handhelds_show_what_was_under_way_and_how_old_that_is(
    open_screen: Opener, tmp_path: Path, size: tuple[float, float, float]
) -> None:
    shown, _ = with_others(open_screen, tmp_path, *size)
    text = " | ".join(shown.all_texts())
    assert "Other handhelds" in text and "hh1, Bench" in text and "hh2, Bench" in text
    assert "as of 25 Nov 08:28, 1 h" in text and "under way then: C5 " in text and "disinfectant: H4" in text


def test_where_they_lie_can_be_chosen_and_an_absent_place_keeps_what_was_seen(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, stick = with_others(open_screen, tmp_path)

    class Gone(FolderDestination):
        def names(self, path: str) -> list[str]:
            raise DestinationAway("it is not there; plug it in")

    shown.sending.way.make = lambda to, credentials, certificates: Gone(stick)
    look_again(shown)
    text = " | ".join(shown.all_texts())
    assert "hh1, Bench" in text and "can't be looked at now: it is not there" in text
    shown.go("send")
    shown.page.where._find = lambda: ["/media/elsewhere"]
    while "See other handhelds from" not in shown.screen.texts():
        shown.tap("More below")
    shown.tap("See other handhelds from")
    shown.settle()
    shown.tap("/media/elsewhere")
    assert others_from(shown.scene.disk) == "/media/elsewhere" == shown.sending.way.seen_from
    shown.tap("See other handhelds from")
    shown.settle()
    shown.tap("where weeks go")
    assert shown.sending.way.seen_from == ""


def test_without_a_place_there_is_no_such_section(open_screen: Opener) -> None:
    shown = Shown(open_screen(412, 892), busy(), "watch")
    look_again(shown)
    assert "Other handhelds" not in shown.all_texts()
