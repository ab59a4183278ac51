"""The look-back by touch; and one story: a weak bath, three scopes through it, who is held, what a lead decides."""

from __future__ import annotations

import csv
import threading
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, TECHNICIAN, Scene, Shown, at_stage, in_soak, two_cycles

from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.trace import look_back
from protocols.labels import SEPARATOR
from screens import words
from screens.desk import Desk
from screens.ledger.traced import bars_of
from tests import pseudo
from tests.record.purge_cases import FOURTH_WEEK, THIRD_WEEK, fresh, purged, weeks_gone
from tests.send.cases import put

Opener = Callable[..., Screen]


def _open(open_screen: Opener, scene: Scene, key: str = "look-back", **what: Any) -> Shown:
    return Shown(open_screen(412, 892), scene, key, **what)


def _find(shown: Shown, words: str) -> None:
    for _ in range(30):
        if any(words in text for text in shown.screen.texts()):
            return
        shown.tap("More below")
    raise AssertionError(f"{words!r} is on no leaf")


# --- the story


def test_a_weak_bath_and_the_scopes_that_lay_in_it_found_and_decided_by_touch(open_screen: Opener) -> None:
    """An activated glutaraldehyde bath poured by touch, three scopes through it, the strip of the third fails."""
    scene = Scene()
    scene.desk.by = TECHNICIAN
    for tag in ("B2", "B5"):
        scene.receive(tag, 5, f"26-{tag}")
    shown = _open(open_screen, scene, "setup-containers")
    shown.tap("Open a container", "Next: What it is", "Disinfectant", "Next: Chemistry and its claim")
    _find(shown, "Glutaraldehyde 2 % and more, society time")
    shown.tap("Glutaraldehyde 2 % and more, society time", "Next: Our label on the container")
    shown.type("K1")
    shown.tap("Next: Lot number")
    shown.type("GLUT-22")
    shown.tap("Next: Printed expiry date")
    shown.scan("2027-06-30")
    shown.tap("Next: Opened on", "Today", "Registered: K1", "K1", "Pour a bath from it")
    before = len(scene.kinds())
    assert "Poured: H2" not in shown.screen.texts(), "it must be activated first"
    shown.tap("Next: Activated or diluted on", "Today", "Poured: H2")
    assert len(scene.kinds()) == before + 1
    bath = scene.door.unit.baths["H2"]
    assert (bath.claim, bath.lot, bath.poured_by) == ("glut-2-society-20c", "GLUT-22", TECHNICIAN)
    scene.give("register-strips", "S2", type="glutaraldehyde 1.5 %", expires="2027-06-30", opened="2026-11-25")
    scene.give("strip-control", "S2", positive=3, negative=3)
    for tag in ("B2", "B5"):
        _through(scene, tag, "H2")
    assert scene.door.unit.scopes["B2"].last is not None
    scene.give("release", "B2", LEAD)
    scene.receive("G7", 5, "26-third")
    scene.walk("G7", at_stage("disinfect"))
    scene.give("strip-test", "H2", scope="G7", result="fail", strip_lot="S2")
    # The last passing use was B5's: it is held, though it hangs disinfected; B2's use was shown good by B5's strip.
    assert {tag for tag, scope in scene.door.unit.scopes.items() if scope.hold} == {"B5"}

    shown.go("watch")
    texts = shown.all_texts()
    assert "Held, not for use" in texts
    assert any(text.startswith("H2 failed a strip test") for text in texts)
    assert "Watch 1" in texts
    assert any(text.startswith("BLOCKED: bath H2 failed its strip test") for text in texts)
    shown.page._leaves.to_top()
    shown.settle()
    _find(shown, "Held, not for use")
    shown.tap("Held, not for use", "Look back")
    assert shown.page.key == "look-back"
    texts = shown.all_texts()
    assert "A failed strip holds or held: B5" in texts
    assert {"B2", "B5", "G7"} <= set(texts)
    assert any("baths WB5" in text and "H2 (GLUT-22)" in text for text in texts)
    assert any(text.startswith("pouring a bath H2") for text in texts)
    shown.go("watch")
    _find(shown, "Held, not for use")
    shown.tap("Held, not for use", "Have it reprocessed", "Mira", "Have it reprocessed")
    line = scene.last_line()
    assert (line["kind"], line["by"], line["data"]["decision"]) == ("decide", LEAD, "reprocess")
    shown.go("watch")
    assert not any("Held, not for use" in text for text in shown.all_texts())
    shown.go("look-back", kind="lot", about="GLUT-22")
    texts = shown.all_texts()
    assert any(text.startswith("to be reprocessed") for text in texts)
    assert any("Have it reprocessed, Mira" in text for text in texts)


def _through(scene: Scene, tag: str, label: str) -> None:
    """Take a scope through its whole cycle, its soak in that bath."""
    scene.walk(tag, lambda lane: lane.step.id == "disinfectant-soak")
    scene.wait(5)
    scene.give("strip-test", label, scope=tag, result="pass", strip_lot="S2")
    scene.wait(5)
    scene.give("start", tag, bath=label, temp_c=21, under=True, filled=True, parts=True)
    scene.wait(1201)
    scene.give("lift", tag, temp_c=21)
    scene.walk(tag)


# --- the page


def test_each_way_of_asking_and_since_when(open_screen: Opener) -> None:
    scene = two_cycles(late=True)
    shown = _open(open_screen, scene, "ledger")
    shown.tap("Look back")
    assert any(text.startswith("Press what to look back at") for text in shown.screen.texts())
    shown.tap("Scope")
    shown.type("B2")
    assert shown.cards() == ["B2"]
    shown.tap("Case")
    shown.type("26-4472")
    assert shown.cards() == ["C4"]
    shown.tap("Bath")
    shown.type("H1")
    texts = shown.all_texts()
    assert "cycles: 2, other events: 1" in texts and any(text.startswith("pouring a bath H1") for text in texts)
    shown.page._leaves.to_top()
    shown.settle()
    shown.tap("Lot")
    shown.type("STRIP-07")
    assert shown.cards() == ["C4", "B2"], "the newest first"
    shown.tap("Person", "Mira")
    assert "C4" in shown.cards()
    shown.tap("Since any day", "7 days back")
    assert shown.cards()
    scene.wait(9 * 86_400)
    shown.tap("Since 18 Nov 2026", "7 days back")
    assert "Nothing in the record touched this." in shown.screen.texts()
    shown.scan("b2")
    assert shown.page.about == "B2"


# Labels of an invented maker: a scope's with its serial number, a container's with expiry and lot.
OF_A_SCOPE = f"]C10101234567890128{SEPARATOR}211234"
OF_A_LOT = f"]C101012345678901281727063010lot-0101{SEPARATOR}"


@pytest.mark.parametrize("page", ["look-back", "ledger"])
def test_labels_are_asked_about_by_what_they_name(open_screen: Opener, page: str) -> None:
    scene = Scene()
    scene.give("add-scope", "B8", LEAD, protocol="bronchoscope-1", serial="1234")
    shown = _open(open_screen, scene, page)

    def asked() -> tuple[str, ...]:
        one = shown.page
        return (one.kind, one.about) if page == "look-back" else (one.query.tag, one.query.bath, one.query.case)

    shown.scan(OF_A_SCOPE)
    assert asked() == (("scope", "B8") if page == "look-back" else ("B8", "", ""))
    shown.scan(OF_A_LOT)
    assert asked() == (("lot", "LOT-0101") if page == "look-back" else ("", "LOT-0101", ""))
    before = asked()
    shown.scan("015102222223333610A213B1211234")
    assert asked() == before and any("sent no separators" in text for text in shown.screen.texts())


def test_a_cycle_leads_to_its_page_and_one_under_way_to_its_steps(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.receive("G7", 5, "26-4473")
    scene.walk("G7", in_soak("disinfectant"))
    shown = _open(open_screen, scene, kind="person", about=TECHNICIAN)
    shown.tap("G7")
    assert shown.page.what == {"tag": "G7"}
    shown.go("look-back", kind="scope", about="B2")
    shown.tap("completed")
    assert shown.page.key == "cycle" and "Release B2 for use" in shown.screen.texts()


def test_a_cycle_leads_to_its_page_after_the_unit_has_moved_to_another_zone(open_screen: Opener) -> None:
    """It ended on a Sunday evening in Berlin, which is Monday, and another week, in Tokyo."""
    scene = two_cycles()
    scene.wait(4 * 86_400 + 12.5 * 3600)
    scene.receive("B5", 5, "26-4473")
    scene.walk("B5")
    assert scene.last_line()["wall"].startswith("2026-11-29T21:")
    scene.give("set-unit", "unit", LEAD, zone="Asia/Tokyo")
    shown = _open(open_screen, scene, kind="scope", about="B5")
    shown.tap("completed")
    assert shown.page.key == "cycle" and "Release B5 for use" in shown.screen.texts()


def test_a_purged_cycle_that_a_strip_holds_since_is_shown_as_no_longer_here(open_screen: Opener) -> None:
    """Its bath was discarded, so nothing kept its week here; the bath's last strip is read a moment later."""
    bench, place = fresh()
    bench.next_week()
    bench.must("close-bath", "H4", reason="at its end")
    assert THIRD_WEEK in weeks_gone(purged(bench, place, FOURTH_WEEK))
    bench.must("strip-test", "H4", scope="B3", result="fail", strip_lot="S1")
    scene = Scene(empty=True)
    scene.disk, scene.clock, scene.door, scene.desk = bench.disk, bench.clock, bench.door, Desk(bench.door, "ann")
    shown = _open(open_screen, scene, kind="scope", about="B3")
    assert {"B3", "no longer here"} <= {*shown.screen.texts()}
    assert any("held since" in text for text in shown.screen.texts())


def test_the_ribbon_of_a_cycle_shows_its_soaks(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.receive("G7", 5, "26-4473")
    scene.walk("G7", in_soak("disinfectant"))
    ended = look_back(scene.disk, "scope", "B2").cycles[0]
    bars = bars_of(ended)
    assert [bar.stage for bar in bars][:3] == ["prepare", "leak test", "clean"] and bars[-1].stage == "store"
    runs = [run for bar in bars for run in bar.runs]
    assert [run.kind for run in runs] == ["detergent", "disinfectant", "air"]
    # OPA 0.55 %: 12 min of contact (CDC 2008 guideline, Table 4).
    assert runs[1].end_ms - runs[1].start_ms >= 720_000
    assert all(bar.start_ms <= bar.end_ms for bar in bars)
    assert bars_of(look_back(scene.disk, "scope", "G7").cycles[0])[-1].stage == "disinfect"


def test_nothing_of_it_stays_in_english_in_another_language(open_screen: Opener) -> None:
    scene = two_cycles(late=True)
    scene.receive("D6")
    scene.walk("D6", at_stage("disinfect"))
    scene.give("strip-test", "H1", scope="D6", result="fail", strip_lot="STRIP-07")
    scene.give("decide", "C4", LEAD, decision="reprocess", reason="07")
    pseudo.use()
    try:
        texts = []
        for kind, about in (("bath", "H1"), ("lot", "STRIP-07")):
            texts += _open(open_screen, scene, kind=kind, about=about).all_texts()
    finally:
        words.use_language("en")
    assert [text for text in texts if pseudo.left_in_english(text, ("Joss", "Mira"))] == []


def test_it_is_left_as_csv_in_the_home(open_screen: Opener, tmp_path: Path) -> None:
    scene = two_cycles()
    scene.disk = RealDisk(put(scene.disk.files, tmp_path))
    shown = _open(open_screen, scene, kind="bath", about="H1")
    shown.tap("Leave it as CSV")
    (file,) = (tmp_path / "exports").iterdir()
    assert any(f"Left in the home folder as exports/{file.name}" in text for text in shown.screen.texts())
    rows = list(csv.DictReader(StringIO(file.read_text("utf-8-sig"))))
    assert {"pour-bath", "strip-test", "start", "lift"} <= {row["kind"] for row in rows}
    assert (tmp_path / "index.sqlite").exists()


class SlowDisk(MemoryDisk):
    """Reads segments only once told to go on; `asked` tells that somebody waits for one."""

    def __init__(self, files: dict[str, bytes]) -> None:
        super().__init__(files)
        self.asked, self.go_on = threading.Event(), threading.Event()

    def read_from(self, path: str, offset: int) -> bytes:
        if threading.current_thread() is not threading.main_thread():
            self.asked.set()
            self.go_on.wait(20)
        return super().read_from(path, offset)


def test_a_first_reading_says_how_far_it_has_come_and_no_tap_waits_for_it(open_screen: Opener) -> None:
    scene = two_cycles()
    scene.disk = slow = SlowDisk({path: bytes(data) for path, data in scene.disk.files.items()})
    shown = _open(open_screen, scene, "setup")
    shown.shell.go("look-back", kind="scope", about="B2")
    shown.screen.frames(4)
    assert not any("first reading" in text for text in shown.screen.texts())
    assert slow.asked.wait(20)
    scene.wait(1)
    shown.shell.tick()
    shown.screen.frames(4)
    assert "first reading of the record, week 1 of 1" in shown.screen.texts()
    assert shown.shell.give("add-person", "new", {"name": "New", "role": "technician"}).done
    slow.go_on.set()
    shown.settle()
    assert shown.cards() == ["B2"]
    assert not any("first reading" in text for text in shown.screen.texts())


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_clipped_on_any_leaf(open_screen: Opener, size: tuple[float, ...]) -> None:
    scene = two_cycles(late=True)
    scene.receive("D6")
    scene.give("strip-test", "H1", scope="D6", result="fail", strip_lot="STRIP-07")
    shown = Shown(open_screen(*size), scene, "look-back", kind="bath", about="H1")
    assert shown.leaves()
    for key in ("watch", "setup-scopes", "setup-baths"):
        shown.go(key)
        assert shown.leaves()
