"""The Send page by touch: choosing where to, the app's own rounds, progress, receipts, and failures in plain words."""

from __future__ import annotations

import string
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import goldens
import harness
import pytest
from lead_scene import LEAD, SIZES, Scene, Shown, two_cycles

from data.destinations import Credentials, FolderDestination
from data.destinations.errors import (
    CertificateRefused,
    CredentialsRefused,
    DeliveryError,
    DestinationAway,
    DestinationLied,
)
from data.exporters.manifest import MANIFEST
from data.receipts import Receipts
from data.refused import refused_in
from data.send_found import certificate_files, folders
from data.send_place import Place, place_of
from data.send_progress import Progress
from protocols.errors import CommandFault
from screens import theme
from screens.refusals import WRITE_S, Refusals
from screens.send import where
from screens.send.send import share_of
from screens.send.sending import LOOK_S, OPEN_AGAIN_S, Sending
from screens.widgets.keypad_keys import PLANES, key_rows
from tests.send.servers import certificate

Opener = Callable[..., harness.Screen]
WEEK, NEXT_WEEK = "2026-W48", "2026-W49"
SERVER, STICK = "https://files.alder-row.example/q", "/media/stick"


class Faulty:
    """A folder behind a door that can be shut: `fault` is raised by the operation of that name, or by all for "*"."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.fault: dict[str, Exception] = {}
        self.wait: threading.Event | None = None
        self.seen: list[tuple[str, str]] = []
        self.given: list[tuple[str, Credentials, str]] = []

    def make(self, to: str, credentials: Credentials, certificates: str) -> Any:
        if "://" in to and not to.startswith("https://"):
            raise CommandFault(f"{to} is no way to send")
        self.given.append((to, credentials, certificates))
        return self

    @property
    def label(self) -> str:
        return self.given[-1][0]

    def close(self) -> None:
        pass

    def __getattr__(self, name: str) -> Any:
        place = FolderDestination(self.root)

        def asked(path: str, *more: Any) -> Any:
            self.seen.append((name, path))
            if self.wait is not None:
                self.wait.wait(20)
            fault = self.fault.get(name) or self.fault.get("*")
            if fault is not None:
                raise fault
            return getattr(place, name)(path, *more)

        return asked

    @property
    def writes(self) -> int:
        return sum(1 for name, _ in self.seen if name == "write")


def sending_shown(
    open_screen: Opener, tmp_path: Path, scene: Scene | None = None, *size: float
) -> tuple[Shown, Faulty]:
    shown = Shown(open_screen(*(size or (412, 892))), scene or two_cycles(), "send")
    (tmp_path / "stick").mkdir(exist_ok=True)
    place = Faulty(tmp_path / "stick")
    shown.sending._make = place.make
    return shown, place


def beat(shown: Shown, after_s: float = 0.0) -> None:
    """Let time pass, give the app's own timer its turn, and let a round run to its end."""
    shown.scene.wait(after_s)
    shown.sending.beat(shown.scene.desk.now())
    finish(shown)


def finish(shown: Shown) -> None:
    for _ in range(50):
        shown.sending.background.finish()
        shown.screen.frames(2)
        if not shown.sending.busy:
            break
    assert not shown.sending.busy
    shown.shell.look()
    shown.screen.frames(3)


def said(shown: Shown) -> str:
    return " | ".join(shown.all_texts())


# --- where to


def test_a_folder_that_is_there_is_chosen_by_one_tap_and_weeks_leave_by_themselves(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.page.where._find = lambda: [STICK]
    assert "No place chosen yet" in said(shown)
    beat(shown, 60)
    assert place.seen == []
    shown.tap("Choose where to")
    shown.settle()
    shown.tap(STICK)
    beat(shown)
    assert (tmp_path / "stick" / "scene" / WEEK / MANIFEST).is_file()
    assert "arrived 25 Nov" in said(shown) and "nothing waits" in said(shown)
    assert place_of(shown.scene.disk) == Place(STICK)
    writes = place.writes
    for _ in range(5):
        beat(shown, OPEN_AGAIN_S + 1)
    assert place.writes == writes


def test_an_address_is_typed_on_planes_and_what_can_be_none_is_said(open_screen: Opener, tmp_path: Path) -> None:
    shown, _ = sending_shown(open_screen, tmp_path)
    shown.page.where._find = list
    for typed, taken in (("ftp://", False), ("files.x/a", True)):
        shown.tap("Choose where to" if not shown.sending.place.to else "Send elsewhere")
        shown.settle()
        shown.tap("Type a WebDAV address")
        if not taken:
            while shown.page._keypad.text:
                shown.tap("Erase")
        for char in typed:
            shown.tap("123" if char == ":" else char)
            if char == ":":
                shown.tap(":")
        shown.tap("Done")
        assert (shown.sending.place.to == "https://files.x/a") is taken
        if not taken:
            assert "is no way to send" in said(shown)
    assert "https://files.x/a" in said(shown)


def test_the_planes_hold_every_sign_of_ascii() -> None:
    chars = {key.char for plane in PLANES for row in key_rows(plane, 5) for key in row if key.char}
    assert chars == set(string.ascii_letters + string.digits + string.punctuation + " ")


def test_a_password_is_shown_as_stars_goes_to_memory_and_is_never_on_the_disk(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(SERVER))
    place.fault["*"] = CredentialsRefused("the server says 401")
    beat(shown)
    assert "The server wants a name and password" in said(shown)
    seen = len(place.seen)
    beat(shown, 3 * LOOK_S)
    assert len(place.seen) == seen  # it does not knock again and again
    shown.tap("Sign in to the server")
    for key in ("j", "o", "s", "s", "Done"):
        shown.tap(key)
    for key in ("a", "ABC", "Q", "123", "7", "()[]", "$"):
        shown.tap(key)
    assert "****" in shown.screen.texts() and not any("aQ7$" in text for text in shown.screen.texts())
    shown.scan("not this")
    place.fault.clear()
    shown.tap("Done")
    beat(shown)
    assert place.given[-1][1] in (Credentials("joss", "aQ7$"), Credentials())
    assert Credentials("joss", "aQ7$") in [credentials for _, credentials, _ in place.given]
    assert "arrived" in said(shown)
    held = b"\n".join(bytes(content) for content in shown.scene.disk.files.values())
    assert b"aQ7$" not in held and b"aQ7$" not in repr(shown.sending._credentials).encode()
    for path in (tmp_path / "stick").rglob("*"):
        assert not path.is_file() or b"aQ7$" not in path.read_bytes()
    # A new start, or another server, asks again.
    assert Sending(shown.scene.disk, shown.scene.door, lambda call: None, place.make)._credentials == Credentials()
    shown.sending.go_to(Place("https://elsewhere.example/x"))
    assert shown.sending._credentials == Credentials()


def test_a_refused_certificate_is_said_and_a_file_can_be_trusted(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown, place = sending_shown(open_screen, tmp_path)
    monkeypatch.setattr(where, "certificate_files", lambda places: ["/media/stick/unit.pem"])
    shown.page.where._find = list
    shown.sending.go_to(Place(SERVER))
    place.fault["*"] = CertificateRefused(f"{SERVER} can't prove who it is; nothing was sent")
    beat(shown)
    assert "can't prove who it is; nothing was sent" in said(shown)
    place.fault.clear()
    shown.tap("Trust a certificate file")
    shown.settle()
    shown.tap("/media/stick/unit.pem")
    beat(shown)
    assert place.given[-1][2] == "/media/stick/unit.pem" and "arrived" in said(shown)
    assert place_of(shown.scene.disk) == Place(SERVER, "/media/stick/unit.pem")


def test_folders_and_certificate_files_are_found(tmp_path: Path) -> None:
    for name in ("stick", "self", "locked"):
        (tmp_path / name / "deep").mkdir(parents=True)
    (tmp_path / "stick" / "ca.PEM").write_text("x")
    (tmp_path / "a-file").write_text("x")
    pattern = str(tmp_path)
    assert folders([f"{pattern}/stick/*", f"{pattern}/*"]) == [f"{pattern}/stick/deep", f"{pattern}/locked"]
    assert certificate_files([f"{pattern}/stick", f"{pattern}/absent"]) == [f"{pattern}/stick/ca.PEM"]


# --- rounds


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


# --- what is shown


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
    shown.sending._make = place.make
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
