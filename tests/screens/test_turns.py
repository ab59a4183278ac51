"""Work on other threads waits while the screen's thread is at work, and never for one that has stopped turning."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from screens import turns as module
from screens.turns import MOST_S, Turns


class RestingClock:
    """As much of Kivy's clock as rests between frames; what happens meanwhile is given by the test."""

    def __init__(self) -> None:
        self.rests: list[float] = []
        self.meanwhile: Callable[[], object] = lambda: None

    def usleep(self, microseconds: float) -> None:
        self.rests.append(microseconds)
        self.meanwhile()


class Impatient(threading.Event):
    """An event for which nobody comes: each wait is noted and over at once, without it."""

    waits: list[float | None]

    def __init__(self) -> None:
        super().__init__()
        self.waits = []

    def wait(self, timeout: float | None = None) -> bool:
        self.waits.append(timeout)
        return False


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> tuple[Turns, RestingClock, list[float | None]]:
    """Turns that watch a clock, the clock, and how long somebody has waited each time."""
    monkeypatch.setattr(module.threading, "Event", Impatient)
    turns, clock = Turns(), RestingClock()
    turns.give_way()
    assert turns._free.waits == [], "before the screen turns nobody waits"
    turns.watch(clock)
    return turns, clock, turns._free.waits


Watched = tuple[Turns, RestingClock, list[float | None]]


def test_a_worker_waits_only_while_the_screen_is_at_work(watched: Watched) -> None:
    turns, clock, waits = watched
    clock.meanwhile = turns.give_way
    clock.usleep(1000)
    assert (clock.rests, waits) == ([1000], [])
    turns.give_way()
    assert waits == [MOST_S], "at work since its rest"


def test_a_rest_that_breaks_leaves_the_screen_at_work(watched: Watched) -> None:
    turns, clock, waits = watched

    def breaks() -> None:
        raise KeyboardInterrupt

    clock.meanwhile = breaks
    with pytest.raises(KeyboardInterrupt):
        clock.usleep(1000)
    turns.give_way()
    assert waits == [MOST_S]


def test_a_screen_that_has_stopped_turning_is_waited_for_once(watched: Watched) -> None:
    turns, clock, waits = watched
    clock.usleep(1000)
    turns.give_way()
    turns.give_way()
    assert waits == [MOST_S], "a paused app rests nowhere"
    clock.usleep(1000)
    turns.give_way()
    assert waits == [MOST_S, MOST_S], "until it turns again"


def test_the_clock_is_as_before_once_it_is_let_go(watched: Watched) -> None:
    turns, clock, waits = watched
    turns.watch(clock)  # again, as an app that is built anew does
    clock.usleep(5)
    assert clock.rests == [5]
    turns.unwatch()
    assert clock.usleep == RestingClock.usleep.__get__(clock)
    turns.give_way()
    assert waits == []


def test_the_next_rest_lets_a_waiting_worker_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_S", 60.0)
    turns, clock, through = Turns(), RestingClock(), threading.Event()
    turns.watch(clock)
    clock.usleep(1000)
    worker = threading.Thread(target=lambda: (turns.give_way(), through.set()), daemon=True)
    worker.start()
    clock.meanwhile = lambda: through.wait(20)
    clock.usleep(1000)
    assert through.is_set()
