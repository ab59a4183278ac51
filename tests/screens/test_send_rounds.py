"""The app's own rounds of sending: they wait, go on, rest, and say in plain words what failed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from lead_scene import LEAD, Shown, two_cycles
from send_scene import NEXT_WEEK, SERVER, STICK, WEEK, Faulty, Opener, beat, finish, said, sending_shown

from data.destinations.errors import DeliveryError, DestinationAway, DestinationLied
from data.exporters.manifest import MANIFEST
from data.receipts import Receipts
from data.send_place import Place
from screens.send.sending import LOOK_S, OPEN_AGAIN_S, Sending
from tests.send.servers import certificate

OTHER = "/media/other"


def test_an_absent_place_is_waited_for_in_peace_and_sent_to_when_it_appears(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    place.root.rmdir()
    shown.sending.go_to(Place(STICK))
    beat(shown)
    assert "Not there now" in said(shown) and "did not take" not in said(shown)
    looks = len(place.seen)
    beat(shown, LOOK_S - 5)
    assert len(place.seen) == looks
    beat(shown, 6)
    assert len(place.seen) == looks + 1
    place.root.mkdir()
    beat(shown, LOOK_S + 1)
    assert "arrived" in said(shown) and [week for week, _ in shown.sending.receipts()] == [WEEK]


def test_somebody_who_asks_for_an_absent_place_is_told(open_screen: Opener, tmp_path: Path) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    place.fault["*"] = DestinationAway("it is not there; plug it in or make the folder, the week waits for it")
    shown.sending.go_to(Place(STICK))
    shown.shell.look()
    shown.tap("Send now")
    finish(shown)
    assert "plug it in" in said(shown)


def test_an_open_week_leaves_again_after_an_hour_a_closed_one_at_once(open_screen: Opener, tmp_path: Path) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    beat(shown)
    writes = place.writes
    shown.scene.give("add-person", "eve", LEAD, name="Eve", role="technician")
    beat(shown, 10 * LOOK_S)
    assert place.writes == writes and "more was recorded since" in said(shown)
    beat(shown, OPEN_AGAIN_S)
    assert place.writes > writes and "more was recorded since" not in said(shown)
    shown.scene.wait(7 * 86_400)
    shown.scene.give("add-person", "ada", LEAD, name="Ada", role="technician")
    beat(shown)
    receipts = dict(shown.sending.receipts())
    assert receipts[WEEK].closed and not receipts[NEXT_WEEK].closed


@pytest.mark.parametrize(
    ("operation", "fault", "words"),
    [
        ("write", DeliveryError("writing x failed (No space left on device); free space there, then send again"),
         "free space there"),
        ("make_folder", DeliveryError("making x failed (Read-only file system); it can only be read"), "only be read"),
        ("rename", DestinationAway("renaming x failed; it may be gone: plug it in and send again"), "Not there now"),
        ("read", DestinationLied("it says that it holds x, and gives back something else"), "gives back something"),
    ],
)  # fmt: skip
def test_a_failure_is_said_in_plain_words_rests_and_then_goes_on(
    open_screen: Opener, tmp_path: Path, operation: str, fault: Exception, words: str
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    place.fault[operation] = fault
    beat(shown)
    assert words in said(shown) and Receipts(shown.scene.disk).week(WEEK) == []
    looks = len(place.seen)
    beat(shown, LOOK_S + 1)
    if not isinstance(fault, DestinationAway):
        assert len(place.seen) == looks  # it rests a minute, then longer
    place.fault.clear()
    shown.tap("Send now")
    finish(shown)
    assert "arrived" in said(shown) and words not in said(shown)


def test_a_week_that_another_record_holds_there_is_named_and_does_not_hold_up_the_others(
    open_screen: Opener, tmp_path: Path
) -> None:
    scene = two_cycles()
    scene.wait(7 * 86_400)
    scene.give("add-person", "eve", LEAD, name="Eve", role="technician")
    shown, place = sending_shown(open_screen, tmp_path, scene)
    (place.root / "scene" / WEEK).mkdir(parents=True)
    (place.root / "scene" / WEEK / MANIFEST).write_bytes(b"{}")
    shown.sending.go_to(Place(STICK))
    beat(shown)
    assert "not sent: " in said(shown) and "no signed export" in said(shown)
    assert [week for week, _ in shown.sending.receipts()] == [NEXT_WEEK]
    looks = len(place.seen)
    beat(shown, 2 * OPEN_AGAIN_S)
    assert len(place.seen) == looks  # nobody knocks again until a person asks
    (place.root / "scene" / WEEK / MANIFEST).unlink()
    (place.root / "scene" / WEEK).rmdir()
    shown.tap("Send now")
    finish(shown)
    assert {week for week, _ in shown.sending.receipts()} == {WEEK, NEXT_WEEK}


def test_taps_and_looks_go_on_while_a_place_is_slow_and_nothing_is_sent_twice(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    place.wait = threading.Event()
    assert shown.sending.send_now()
    assert shown.sending.busy and not shown.sending.send_now()
    shown.sending.beat(shown.scene.desk.now())
    shown.scene.receive("G7")
    before = shown.scene.door.journal.head[0]
    shown.shell.tick()
    shown.screen.frames(3)
    assert f"Sending {WEEK}" in shown.screen.texts()
    place.wait.set()
    finish(shown)
    (receipt,) = Receipts(shown.scene.disk).week(WEEK)
    assert receipt.through <= before
    names = [path for name, path in place.seen if name == "write"]
    assert len(names) == len(set(names))


def test_an_app_that_ends_in_the_middle_goes_on_at_the_next_start(open_screen: Opener, tmp_path: Path) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    real = Faulty(place.root)
    left = [6]

    def cut(path: str, content: bytes) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise DestinationAway("the app was killed here")
        real.write(path, content)

    place.write = cut  # type: ignore[attr-defined]
    beat(shown)
    assert Receipts(shown.scene.disk).week(WEEK) == []
    again = Sending(shown.scene.disk, shown.scene.door, lambda call: calls.append(call), real.make)
    calls: list[Callable[[], None]] = []
    again.beat(shown.scene.desk.now())
    for _ in range(20):
        again.background.finish()
        while calls:
            calls.pop(0)()
    assert len(Receipts(shown.scene.disk).week(WEEK)) == 1
    assert real.writes < len([p for p in (place.root / "scene" / WEEK).rglob("*") if p.is_file()]) + 6


def test_certificates_that_have_gone_are_said_and_stop_nothing_else(open_screen: Opener, tmp_path: Path) -> None:
    shown = Shown(open_screen(412, 892), two_cycles(), "send")
    pem = tmp_path / "unit.pem"
    pem.write_bytes(certificate(tmp_path, "unit")[0].read_bytes())
    shown.sending.go_to(Place(SERVER, str(pem)))
    pem.write_text("not a certificate")
    again = Sending(shown.scene.disk, shown.scene.door, lambda call: None)
    again.beat(shown.scene.desk.now())
    again.look()
    assert "no certificates" in again.state.trouble and not again.busy and again.receipts() == []
    assert not again.send_now()


def test_another_place_chosen_meanwhile_gets_no_receipt_of_the_first(open_screen: Opener, tmp_path: Path) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    (tmp_path / "other").mkdir()
    other = Faulty(tmp_path / "other")
    places = {STICK: place, OTHER: other}
    shown.sending.way.make = lambda to, *more: places[to].make(to, *more)
    shown.sending.go_to(Place(STICK))
    place.wait = threading.Event()
    assert shown.sending.send_now()
    shown.sending.go_to(Place(OTHER))
    place.wait.set()
    finish(shown)
    assert [receipt.to for receipt in Receipts(shown.scene.disk).week(WEEK)] == [STICK]
    assert (place.root / "scene" / WEEK / MANIFEST).is_file() and not any(other.root.iterdir())
    assert shown.sending.state.waiting == (WEEK,) and not shown.sending.seen
    beat(shown)
    assert (other.root / "scene" / WEEK / MANIFEST).is_file()
    assert sorted(receipt.to for receipt in Receipts(shown.scene.disk).week(WEEK)) == [OTHER, STICK]


def test_a_failure_of_the_first_place_is_not_told_of_the_next(open_screen: Opener, tmp_path: Path) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    place.fault["write"] = DeliveryError("writing x failed (No space left on device)")
    shown.sending.go_to(Place(STICK))
    place.wait = threading.Event()
    assert shown.sending.send_now()
    (tmp_path / "other").mkdir()
    other = Faulty(tmp_path / "other")
    shown.sending.way.make = other.make
    shown.sending.go_to(Place(OTHER))
    place.wait.set()
    finish(shown)
    assert "No space left" not in said(shown) and shown.sending.state.failed == {}
