"""Two apps side by side: keys paired, a running cycle handed over by codes and by a file, and its answer read back."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from harness import Screen
from lead_scene import LEAD, SHELF, Scene, Shown, in_soak

from data.memory_disk import MemoryDisk
from data.opening import open_door
from data.rehearse.scene import TECHNICIAN
from protocols.errors import DiskError
from protocols.event import Command, Event
from protocols.whereabouts import Place, place_of
from screens import languages
from screens.desk import Desk
from screens.handover import files
from screens.handover.codes import CodesPage
from screens.widgets.code import Code

Opener = Callable[..., Screen]


class Other(Scene):
    """A second handheld of the unit, with the same lead and nothing else."""

    def __init__(self, clock: object) -> None:
        self.disk = MemoryDisk()
        self.clock = clock
        self.door = open_door(self.disk, self.clock, SHELF, device="other")
        self.desk = Desk(self.door, LEAD)
        for do, subject, values in (
            ("set-unit", "unit", {"zone": "Europe/Berlin"}), ("add-person", LEAD, {"name": "Mira", "role": "lead"}),
        ):  # fmt: skip
            assert isinstance(self.door.give(Command(do, subject, values, LEAD)), Event)


@pytest.fixture
def two() -> tuple[Scene, Other]:
    """The scene with B5 in disinfectant, and a second handheld; each has paired the other."""
    scene = Scene()
    scene.receive("B5", 10, "26-4")
    scene.walk("B5", in_soak("disinfectant"))
    other = Other(scene.clock)
    for one, peer in ((scene, other), (other, scene)):
        device, key = files.key_in(files.own_key(peer.door, peer.disk)) or ("", "")
        one.give("pair-handheld", device, LEAD, public_key=key)
    return scene, other


def codes_shown(shown: Shown) -> list[str]:
    """Every code of the page, by turning it as a person does."""
    page = shown.page
    assert isinstance(page, CodesPage) and any(isinstance(child, Code) for child in page.children)
    for _ in range(len(page._texts)):
        assert not shown.screen.clipped()
        if len(page._texts) > 1:
            shown.tap("Next")
    return list(page._texts)


def test_a_key_is_paired_by_a_lead_who_compares_it(open_screen: Opener) -> None:
    scene = Scene()
    other = Other(scene.clock)
    shown = Shown(open_screen(412, 892), other, "handover")
    shown.tap("Pair with another handheld")
    (code,) = codes_shown(shown)
    shown = Shown(open_screen(412, 892), scene, "watch")
    shown.scan(code)
    shown.tap("Mira")
    assert any("other with the key" in text for text in shown.screen.texts())
    shown.tap("They are the same")
    assert scene.door.unit.peers["other"].key == (files.key_in(files.own_key(other.door, other.disk)) or ("", ""))[1]


def test_a_running_soak_goes_over_by_codes_and_its_answer_comes_back(
    open_screen: Opener, two: tuple[Scene, Other]
) -> None:
    scene, other = two
    shown = Shown(open_screen(412, 892), scene, "scope", tag="B5")
    shown.tap("Hand over to another handheld", "other", "Hand B5 over")
    assert "Show the codes of B5" in shown.screen.texts()
    shown.tap("Show the codes of B5")
    codes = codes_shown(shown)
    taker = Shown(open_screen(412, 892), other, "bench")
    for code in codes[::-1]:
        taker.scan(code)
    assert other.door.unit.cycles["B5"].running
    answer = codes_shown(taker)
    back = Shown(open_screen(412, 892), scene, "watch")
    assert any("not confirmed" in text for text in back.all_texts())
    for code in answer:
        back.scan(code)
    assert place_of(scene.door.unit, "B5") is Place.ELSEWHERE and "B5 has been taken over there" in back.screen.texts()


def test_codes_that_are_missing_are_named_and_one_read_wrong_is_told(
    open_screen: Opener, two: tuple[Scene, Other]
) -> None:
    scene, other = two
    scene.give("hand-over", "B5", TECHNICIAN, device="other")
    codes = files.codes(files.offers(scene.door, scene.disk, False))
    shown = Shown(open_screen(412, 892), other, "handover")
    shown.scan(codes[1])
    assert any(f"1 of {len(codes)} codes read. Still missing: 1, 3" in text for text in shown.screen.texts())
    shown.scan(codes[0][:-1] + ("A" if codes[0][-1] != "A" else "B"))
    assert any("read it again" in text for text in shown.screen.texts())
    assert "B5" not in other.door.unit.cycles


def test_why_an_offer_was_not_taken_is_said_in_the_language_in_use(
    open_screen: Opener, two: tuple[Scene, Other]
) -> None:
    scene, other = two
    scene.give("hand-over", "B5", TECHNICIAN, device="other")
    codes = files.codes(files.offers(scene.door, scene.disk, False))
    languages.use("de")
    try:
        taker = Shown(open_screen(412, 892), other, "handover")
        for code in (*codes, *codes):
            taker.scan(code)
        taker.shell.back()
        taker.settle()
        said = next(text for text in taker.screen.texts() if text.startswith("B5: "))
    finally:
        languages.use("en")
    assert "schon beantwortet" in said and "nichts wird zweimal übernommen" in said


def test_the_bench_goes_over_by_a_file(open_screen: Opener, two: tuple[Scene, Other]) -> None:
    scene, other = two
    shown = Shown(open_screen(412, 892), scene, "handover")
    shown.tap("Hand over 1 to another handheld", "other", "Hand over to other", "Write them to a file")
    (name,) = scene.disk.names("handover")
    other.disk.replace(f"handover/{name}", scene.disk.read(f"handover/{name}"))
    taker = Shown(open_screen(412, 892), other, "handover")
    taker.tap("Read a file", name)
    assert "B5" in other.door.unit.cycles
    (answer,) = [one for one in other.disk.names("handover") if one.startswith("other-")]
    scene.disk.replace(f"handover/{answer}", other.disk.read(f"handover/{answer}"))
    back = Shown(open_screen(412, 892), scene, "handover")
    back.tap("Read a file", answer)
    assert place_of(scene.door.unit, "B5") is Place.ELSEWHERE


def test_a_folder_that_can_not_be_listed_is_said(
    open_screen: Opener, two: tuple[Scene, Other], monkeypatch: pytest.MonkeyPatch
) -> None:
    scene, _ = two
    names = scene.disk.names

    def failing(folder: str) -> list[str]:
        if folder == files.FOLDER:
            raise DiskError("listing handover failed (Input/output error)")
        return names(folder)

    monkeypatch.setattr(scene.disk, "names", failing)
    shown = Shown(open_screen(412, 892), scene, "handover")
    assert any("listing handover failed" in text for text in shown.screen.texts())
    monkeypatch.setattr(scene.disk, "names", names)
    shown.shell.look()
    assert not any("listing handover failed" in text for text in shown.screen.texts())
