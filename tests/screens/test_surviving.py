"""A defect of a page ends neither the app nor the calls: touches, looks and beats that fail, in the app's own frame."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import stage
from harness import Screen
from kivy.base import EventLoop, ExceptionManager
from kivy.clock import Clock

from protocols.errors import ClockError, DiskError
from screens.app import build
from screens.frame import BasinbellApp
from screens.posting import turns
from screens.senses.choose import senses_for
from screens.surviving import told_of

Opener = Callable[..., Screen]


class App:
    """The app on a bench under way, turned as Kivy's own loop turns it."""

    def __init__(self, screen: Screen, folder: Path) -> None:
        held = stage.bench(screen)
        self.clock, self.screen = held.clock, screen
        self.senses = senses_for("linux", folder)
        self.frame = BasinbellApp(lambda apply: build(held.desk, held.disk, apply), self.senses, held.disk)
        self.shell: Any = screen.show(self.frame.build())
        self.frame.on_start()
        screen.frames(6)
        # The crier is asked once a second, and in between where something falls due.
        self.calls = 0
        crier, real = self.frame._prompting.crier, self.frame._prompting.crier.tick

        def tick(*given: Any) -> Any:
            self.calls += 1
            return real(*given)

        crier.tick = tick  # type: ignore[method-assign]

    def second(self) -> None:
        """One second of Kivy's loop: what nobody caught goes to those who handle errors, or ends all."""
        self.clock.advance(1)
        try:
            self.frame._tick.get_callback()(1.0)
        except Exception as error:
            if ExceptionManager.handle_exception(error) == ExceptionManager.RAISE:
                raise
        self.screen.frames(3)

    def said(self) -> str:
        return str(self.shell.strip.words)

    def close(self) -> None:
        self.frame._tick.cancel()
        self.frame.on_stop()
        self.senses.close()
        turns.unwatch()


@pytest.fixture
def app(open_screen: Opener, tmp_path: Path) -> Iterator[App]:
    made = App(open_screen(412, 892), tmp_path)
    yield made
    made.close()


def fails(*_: Any, **__: Any) -> None:
    raise KeyError("B9")


def test_a_page_that_fails_at_every_look_is_said_once_and_calls_go_on(
    app: App, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(app.shell.page, "refresh", fails)
    with caplog.at_level(logging.ERROR, "basinbell"):
        app.second()
        assert app.said() == "Something in the app failed: KeyError: 'B9'"
        assert "Soaks and calls go on" in " ".join(app.screen.texts())
        assert not app.screen.clipped() and not app.screen.overlapping()
        app.shell.strip.put_away()
        app.second()
    assert app.said() == "" and app.calls >= 2
    told = [(record.getMessage(), bool(record.exc_info)) for record in caplog.records]
    assert told == [("the app goes on after an error", True)]


def test_a_beat_that_fails_keeps_no_other_from_what_it_does(app: App) -> None:
    app.shell.on_beat.insert(0, fails)
    app.second()
    assert app.calls >= 1 and "KeyError" in app.said()


def test_an_engine_that_fails_to_look_is_said_and_the_next_look_is_asked_for_again(
    app: App, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(app.shell, "see", fails)
        app.second()
        assert "KeyError" in app.said()
    app.second()
    assert app.shell.seen is not None and app.calls >= 1


def test_a_touch_that_fails_is_said_every_time_and_ends_nothing(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    def turn() -> None:
        """One turn of Kivy's own loop, with its own way to handle errors."""
        try:
            Clock.tick()
        except Exception as error:
            assert ExceptionManager.handle_exception(error) == ExceptionManager.PASS

    for _ in range(2):
        Clock.schedule_once(fails, 0)
        turn()
        assert "KeyError" in app.said()
        app.shell.strip.put_away()
    app.second()
    assert app.calls >= 1
    assert EventLoop.status == "started"


def test_what_asks_the_app_to_end_ends_it(app: App) -> None:
    for request in (SystemExit(), KeyboardInterrupt()):
        assert ExceptionManager.handle_exception(request) == ExceptionManager.RAISE
    app.frame.on_stop()
    assert ExceptionManager.handle_exception(KeyError("x")) == ExceptionManager.RAISE, "the frame left its handler"
    app.frame._surviving.begin()


def test_a_strip_that_fails_is_no_second_error(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app.shell, "tell", fails)
    assert ExceptionManager.handle_exception(KeyError("x")) == ExceptionManager.PASS
    app.shell.on_beat.insert(0, fails)
    app.second()
    assert app.calls >= 1


def test_a_clock_or_disk_that_fails_where_no_page_expects_it_is_named_as_such() -> None:
    clock, disk = told_of(ClockError("it went back by 3 s")), told_of(DiskError("reading x failed"))
    assert (clock.rule, clock.words) == ("clock", "NOT recorded, the clock is in doubt: it went back by 3 s")
    assert (disk.rule, disk.done) == ("unread", False) and "reading x failed" in disk.words
