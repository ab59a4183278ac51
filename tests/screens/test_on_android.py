"""The app's frame on the stand-in of Android: pause, resume, back, what is refused, and the way to allow it."""

from __future__ import annotations

import sys
import types
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import stage
from harness import Screen
from kivy.clock import Clock

from screens.app import build
from screens.frame import BasinbellApp
from screens.posting import turns
from screens.senses.alarms import Alarms
from screens.senses.alarms_android import AndroidAlarms
from screens.senses.choose import senses_for
from tests.handheld.documents import TREE, Address, Documents
from tests.handheld.fake_android import FakeAndroid, Intent

Opener = Callable[..., Screen]
ASKS = "Allow them?"


class Handheld:
    """The whole app in its frame, on a bench under way."""

    def __init__(self, screen: Screen, folder: Path, monkeypatch: pytest.MonkeyPatch, allowed: bool = True) -> None:
        app = stage.bench(screen)
        self.screen, self.clock, self.disk = screen, app.clock, app.disk
        self.android = FakeAndroid(app.clock, app.disk.files)
        self.android.exact_allowed = allowed
        monkeypatch.setitem(sys.modules, "jnius", self.android.module())
        self.senses = replace(senses_for("linux", folder), alarms=Alarms(AndroidAlarms(), lambda: True, lambda: True))
        self.frame = BasinbellApp(lambda apply: build(app.desk, app.disk, apply), self.senses, app.disk)
        self.shell: Any = screen.show(self.frame.build())
        self.frame.on_start()
        screen.frames(6)

    def close(self) -> None:
        self.frame._tick.cancel()
        self.senses.close()
        turns.unwatch()


def test_the_planner_waits_for_the_screen_from_the_start_of_the_app_to_its_end(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone = Clock.usleep
    held = Handheld(open_screen(412, 892), tmp_path, monkeypatch)
    assert Clock.usleep != alone, "its rests between frames are when others work"
    held.frame.on_stop()
    assert Clock.usleep == alone
    held.close()


def test_pausing_keeps_the_app_and_arms_alarms_and_resuming_takes_them_back(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = Handheld(open_screen(412, 892), tmp_path, monkeypatch)
    assert not held.android.alarms
    # Kivy, App.on_pause: whatever is not True ends the app.
    assert held.frame.on_pause() is True
    assert held.android.alarms
    held.android.advance(1800)
    assert held.android.shown
    held.frame.on_resume()
    held.screen.frames(6)
    assert not held.android.alarms and not held.android.notices
    held.frame.on_stop()
    assert held.android.alarms, "a closed app must not mean that nobody is called"
    held.close()


def test_the_bench_says_what_is_refused_and_the_app_asks_once_at_its_start(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = Handheld(open_screen(412, 892), tmp_path, monkeypatch, allowed=False)
    assert any(ASKS in words for words in held.screen.texts())
    held.screen.tap("Not now")
    held.screen.frames(6)
    held.shell.go("bench")
    held.screen.frames(6)
    line = "Prompts only while the screen is on: exact alarms are not allowed; Setup, This handheld"
    assert any(line in words for words in held.screen.texts())
    assert not held.screen.clipped() and not held.screen.overlapping()
    held.android.exact_allowed = True
    held.frame.on_resume()
    held.screen.frames(6)
    assert not any(line in words for words in held.screen.texts())
    held.close()


def test_setup_leads_to_the_devices_settings_with_the_reason(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = Handheld(open_screen(360, 640), tmp_path, monkeypatch, allowed=False)
    held.screen.tap("Not now")
    held.shell.go("setup-handheld")
    held.screen.frames(6)
    assert not held.screen.clipped() and not held.screen.overlapping()
    if "Alarms while the screen is off: not allowed" not in held.screen.texts():
        held.screen.tap("More below, 1 of 2")
        held.screen.frames(6)
    held.clock.advance(1)
    held.screen.tap("Alarms while the screen is off: not allowed")
    held.screen.frames(6)
    assert not held.screen.clipped() and not held.screen.overlapping()
    held.clock.advance(1)
    held.screen.tap("Open the device's settings")
    assert [page.action for page in held.android.opened] == ["android.settings.REQUEST_SCHEDULE_EXACT_ALARM"]
    held.close()


def test_back_at_the_bench_never_closes_the_app(open_screen: Opener) -> None:
    app = stage.bench(open_screen(412, 892))
    app.go("bench")
    count = len(app.lines())
    for _ in range(3):
        # Kivy takes a true answer to Escape, which the back button arrives as, for "handled": the app stays.
        assert app.shell.scanner.key(None, 27, 41, None, []) is True
    assert app.shell.page.key == "bench"
    assert len(app.lines()) == count


def test_where_no_alarms_are_needed_nothing_of_them_shows(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "jnius", None)
    app = stage.bench(open_screen(412, 892))
    senses = senses_for("linux", tmp_path)
    frame = BasinbellApp(lambda apply: build(app.desk, app.disk, apply), senses, app.disk)
    app.screen.show(frame.build())
    assert frame.on_pause() is True
    frame.on_resume()
    frame.root = frame._shell
    frame._shell.go("setup-handheld")
    app.settle()
    assert not any("Alarms" in words for words in app.screen.texts())
    assert "under-way" not in app.disk.files
    senses.close()


def test_a_folder_is_picked_on_the_send_page_and_the_week_leaves_for_it(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "stick"
    root.mkdir()
    package, answers = types.ModuleType("android"), []
    package.activity = types.SimpleNamespace(bind=lambda on_activity_result: answers.append(on_activity_result))
    monkeypatch.setitem(sys.modules, "android", package)
    held = Handheld(open_screen(412, 892), tmp_path / "sounds", monkeypatch)
    held.android.documents = Documents(root)
    held.shell.go("send")
    held.screen.frames(6)
    page = held.shell.page
    page.where._find = list
    held.screen.tap("Choose where to")
    page.background.finish()
    held.screen.frames(6)
    held.clock.advance(1)
    held.screen.tap("Pick a folder")
    picked = Intent()
    picked.getData = lambda: Address(TREE)  # type: ignore[attr-defined]
    answers[0](held.android.asked_code, -1, picked)
    for _ in range(5):
        held.clock.advance(30)
        held.shell.tick()
        page.sending.background.finish()
        held.screen.frames(6)
    assert list(root.rglob("manifest.json")), page.sending.state
    texts = held.screen.texts()
    assert "1A2B-3C4D:Basin" in " ".join(texts) and not any("content:" in words for words in texts)
    assert not held.screen.clipped() and not held.screen.overlapping()
    page.sending.background.stop()
    held.close()
