"""What one handheld keeps for itself: changed by touch, followed at once, kept whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from harness import Screen
from kivy.core.window import Window
from lead_scene import Scene, Shown

from screens import theme
from screens.app import build
from screens.frame import BasinbellApp
from screens.senses.choose import senses_for
from screens.setup.preferences import FILE, Preferences, load, save
from tests.faults import FaultyDisk

Opener = Callable[..., Screen]


def _open(open_screen: Opener, scene: Scene, key: str = "setup") -> Shown:
    return Shown(open_screen(412, 892), scene, key)


def test_preferences_are_kept_and_followed_at_once(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-handheld")
    count = len(scene.kinds())
    shown.tap("Sounds: on", "Theme: enamel, light")
    wanted = Preferences(theme="night", sounds=False)
    assert load(scene.disk) == wanted
    assert shown.applied[-1] == wanted
    assert "Sounds: off" in shown.screen.texts()
    assert len(scene.kinds()) == count, "preferences are not part of the record"


def test_a_change_does_not_forget_that_alarms_were_asked_for_meanwhile(open_screen: Opener) -> None:
    scene = Scene()
    shown = _open(open_screen, scene, "setup-handheld")
    save(scene.disk, Preferences(alarms_asked=True))  # as the question does, whatever page is shown
    shown.tap("Sounds: on")
    assert load(scene.disk) == Preferences(sounds=False, alarms_asked=True)


def test_the_app_follows_a_new_theme_and_a_switch(open_screen: Opener, tmp_path: Path) -> None:
    scene = Scene()
    screen = open_screen(412, 892)
    senses = senses_for("linux", tmp_path)
    app = BasinbellApp(lambda apply: build(scene.desk, scene.disk, apply), senses, scene.disk)
    first = screen.show(app.build())
    first.go("setup-handheld")
    screen.frames(6)
    for words in ("Vibration: on", "Theme: enamel, light"):
        scene.wait(1)
        screen.tap(words)
        screen.frames(8)
    assert (theme.name_in_use(), senses.buzz.on) == ("night", False)
    assert app.root is not first
    assert [child for child in Window.children if child in (first, app.root)] == [app.root]
    screen.root = app.root
    assert "Theme: night, dark" in screen.texts()
    assert ("buzz", "why.off") in app.root.failing()
    senses.close()


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b"\xff", b'{"theme": "pink", "sounds": "no"}', b'{"theme": true, "other": 1}', b"[" * 100_000],
)
def test_damaged_preferences_are_as_on_a_new_handheld(content: bytes) -> None:
    disk = Scene(empty=True).disk
    disk.files[FILE] = bytearray(content)
    assert load(disk) == Preferences()


def test_what_is_whole_in_preferences_is_kept() -> None:
    disk = Scene(empty=True).disk
    disk.files[FILE] = bytearray(b'{"theme": "night", "sounds": 1, "speech": false}')
    assert load(disk) == Preferences(theme="night", speech=False)
    save(disk, Preferences(vibration=False))
    assert load(disk) == Preferences(vibration=False)


def test_preferences_that_cannot_be_kept_are_said(open_screen: Opener) -> None:
    scene = Scene()
    faulty = FaultyDisk(scene.disk)
    faulty.fill()
    scene.disk = faulty
    shown = _open(open_screen, scene, "setup-handheld")
    shown.tap("Speech: on")
    assert any(text.startswith("Changed, but it could not be kept") for text in shown.screen.texts())
    assert shown.applied[-1] == Preferences(speech=False)
