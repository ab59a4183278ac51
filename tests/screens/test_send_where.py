"""Where weeks go, chosen by touch: folders, addresses, passwords, certificates."""

from __future__ import annotations

import string
import threading
from pathlib import Path

import pytest
from send_scene import SERVER, STICK, WEEK, Opener, beat, said, sending_shown

from data.destinations import Credentials
from data.destinations.errors import CertificateRefused, CredentialsRefused
from data.exporters.manifest import MANIFEST
from data.send_found import certificate_files, folders
from data.send_place import Place, place_of
from screens.send import where
from screens.send.sending import LOOK_S, OPEN_AGAIN_S, Sending
from screens.widgets.keypad_keys import PLANES, key_rows


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
        shown.tap("Choose where to" if not shown.sending.way.place.to else "Send elsewhere")
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
        assert (shown.sending.way.place.to == "https://files.x/a") is taken
        if not taken:
            assert "is no way to send" in said(shown)
    assert "https://files.x/a" in said(shown)


def test_folders_that_were_long_looked_for_open_no_question_on_another_page(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, _ = sending_shown(open_screen, tmp_path)
    gone_on = threading.Event()
    shown.page.where._find = lambda: [STICK] if gone_on.wait(20) else []
    where = shown.page.where
    shown.screen.tap("Choose where to")
    shown.shell.go("watch")
    gone_on.set()
    where.background.finish()
    shown.settle()
    assert shown.page.key == "watch"
    shown.go("send")
    shown.tap("Choose where to")
    shown.settle()
    assert STICK in shown.screen.texts()


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
    assert b"aQ7$" not in held and b"aQ7$" not in repr(shown.sending.way.credentials).encode()
    for path in (tmp_path / "stick").rglob("*"):
        assert not path.is_file() or b"aQ7$" not in path.read_bytes()
    # A new start, or another server, asks again.
    assert Sending(shown.scene.disk, shown.scene.door, lambda call: None, place.make).way.credentials == Credentials()
    shown.sending.go_to(Place("https://elsewhere.example/x"))
    assert shown.sending.way.credentials == Credentials()


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
    # The system can't say what this one is, as with a share that went away while it was mounted.
    (tmp_path / "a-gone").symlink_to("x" * 300)
    pattern = str(tmp_path)
    assert folders([f"{pattern}/stick/*", f"{pattern}/*"]) == [f"{pattern}/stick/deep", f"{pattern}/locked"]
    assert certificate_files([f"{pattern}/stick", f"{pattern}/absent"]) == [f"{pattern}/stick/ca.PEM"]
