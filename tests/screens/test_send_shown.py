"""What the Send page shows: progress, receipts and trouble, at every size; and refusals counted beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import goldens
import pytest
from lead_scene import LEAD, SIZES, Scene, Shown, two_cycles
from send_scene import NEXT_WEEK, SERVER, STICK, WEEK, Faulty, Opener, beat, said, sending_shown

from data.exporters.manifest import MANIFEST
from data.refused import refused_in
from data.send_place import Place
from data.send_progress import Progress
from screens import theme
from screens.refusals import WRITE_S, Refusals
from screens.send.send import share_of


def test_progress_is_a_bar_that_never_goes_back() -> None:
    steps = [
        None, Progress(WEEK, "making", "the record", 1, 5), Progress(WEEK, "making", "week.pdf", 5, 5),
        Progress(WEEK, "writing", MANIFEST, 1, 20), Progress(WEEK, "there", "week.pdf", 20, 20),
        Progress(WEEK, "checking", "week.pdf", 20, 20),
    ]  # fmt: skip
    shares = [share_of(step) for step in steps]
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == pytest.approx(1.0)


def trouble(shown: Shown, place: Faulty) -> None:
    """Two weeks wait for a server that can't prove who it is; one is on its way."""
    scene = shown.scene
    scene.wait(7 * 86_400)
    scene.give("add-person", "eve", LEAD, name="Eve", role="technician")
    shown.sending.go_to(Place(SERVER))
    shown.sending.look()
    shown.sending.state.trouble = (
        f"{SERVER} can't prove who it is (self-signed certificate); nothing was sent: ask the unit's IT for its "
        "certificate and give that file, or correct the address"
    )
    shown.sending.state.failed[NEXT_WEEK] = "another record of that week lies there"


def under_way(shown: Shown, place: Faulty) -> None:
    """One week has arrived, the next is being written."""
    scene = shown.scene
    shown.sending.go_to(Place("/media/stick"))
    beat(shown)
    scene.wait(7 * 86_400)
    scene.give("add-person", "eve", LEAD, name="Eve", role="technician")
    shown.sending.look()
    shown.sending._round = [NEXT_WEEK]
    shown.sending.state.week = NEXT_WEEK
    shown.sending.state.progress = Progress(NEXT_WEEK, "writing", "week.pdf", 9, 20, 40_000)


@pytest.mark.parametrize("build", [trouble, under_way])
@pytest.mark.parametrize("size", SIZES)
def test_all_of_it_shows_at_every_size(
    open_screen: Opener, tmp_path: Path, build: Callable[[Shown, Faulty], None], size: tuple[float, float, float]
) -> None:
    shown, place = sending_shown(open_screen, tmp_path, None, *size)
    build(shown, place)
    shown.shell.look()
    shown.settle()
    assert WEEK in said(shown)


@pytest.mark.parametrize("look", sorted(theme.THEMES))
@pytest.mark.parametrize(("name", "build"), [("trouble", trouble), ("under-way", under_way)])
def test_it_looks_as_agreed(
    open_screen: Opener, tmp_path: Path, look: str, name: str, build: Callable[[Shown, Faulty], None]
) -> None:
    shown = Shown(open_screen(412, 892, look=look), two_cycles(), "send")
    (tmp_path / "stick").mkdir()
    place = Faulty(tmp_path / "stick")
    shown.sending.way.make = place.make
    build(shown, place)
    shown.shell.look()
    shown.settle()
    goldens.check(f"send-{name}-{look}", shown.screen.picture(), tmp_path)


@pytest.mark.parametrize("size", [(360, 640, 1.3), (412, 892, 1.0), (1280, 800, 1.0)])
def test_typing_pages_fit(open_screen: Opener, tmp_path: Path, size: tuple[float, float, float]) -> None:
    shown, _ = sending_shown(open_screen, tmp_path, None, *size)
    shown.sending.go_to(Place(SERVER))
    shown.page.where.sign_in()
    for plane in ("ABC", "123", "()[]", "abc"):
        shown.tap(plane)
        assert not shown.screen.clipped() and not shown.screen.overlapping()


def test_nothing_is_said_to_have_arrived_where_a_receipt_can_not_be_read(open_screen: Opener, tmp_path: Path) -> None:
    shown, _ = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    shown.shell.look()
    shown.scene.disk.files[f"receipts/{WEEK}.json"] = b"rubbish"
    shown.tap("Send now")
    assert "is not as it was written" in said(shown) and "everything has arrived" not in said(shown)


def test_refusals_are_written_now_and_then_and_change_nothing_else(open_screen: Opener) -> None:
    scene = Scene()
    refusals = Refusals(scene.disk)
    refusals.hear(scene.desk)
    before = {path: bytes(content) for path, content in scene.disk.files.items()}
    assert not scene.desk.give("lift", "B2").done
    refusals.beat(scene.desk.now())
    assert refused_in(scene.disk, WEEK) == {"no-cycle": 1}
    scene.wait(1)
    scene.desk.give("lift", "B2")
    refusals.beat(scene.desk.now())
    assert refused_in(scene.disk, WEEK) == {"no-cycle": 1}
    scene.wait(WRITE_S)
    refusals.beat(scene.desk.now())
    assert refused_in(scene.disk, WEEK) == {"no-cycle": 2}
    after = {path: bytes(content) for path, content in scene.disk.files.items()}
    assert {path for path in after if after[path] != before.get(path)} == {f"refused/{WEEK}.json"}
