"""Work off the screen's thread: the newest question counts, what must be done is done, a defect ends nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest

from protocols.errors import Defect, DiskError
from screens.background import Background


class Held:
    """A background whose first job waits until it is let go; `answers` is what came back, in order."""

    def __init__(self) -> None:
        self.answers: list[Any] = []
        self.background = Background("test", lambda call: call())
        self._begun, self._gate = threading.Event(), threading.Event()
        self.background.run(self._first, self.answers.append)
        assert self._begun.wait(20)

    def _first(self) -> str:
        self._begun.set()
        self._gate.wait(20)
        return "first"

    def end(self) -> list[Any]:
        self._gate.set()
        self.background.finish()
        return self.answers


def test_of_questions_that_wait_only_the_newest_is_answered() -> None:
    held = Held()
    for name in ("second", "third"):
        held.background.run(lambda name=name: name, held.answers.append)
    assert held.end() == ["first", "third"]


def test_what_must_be_done_is_done_whatever_is_asked_before_or_after() -> None:
    held = Held()
    held.background.run(lambda: "asked before", held.answers.append)
    held.background.do(lambda: "left as CSV", held.answers.append)
    held.background.do(lambda: "made again", held.answers.append)
    held.background.run(lambda: "asked after", held.answers.append)
    assert held.end() == ["first", "left as CSV", "made again", "asked after"]


def _broken(error: Exception) -> Callable[[], Any]:
    def job() -> None:
        raise error

    return job


@pytest.mark.parametrize("error", [KeyError("stage"), MemoryError(), DiskError("reading failed"), Defect("a hole")])
def test_whatever_a_job_raises_is_its_answer_and_the_next_job_runs(error: Exception) -> None:
    answers: list[Any] = []
    background = Background("test", lambda call: call())
    background.run(_broken(error), answers.append)
    background.finish()
    assert not background.busy
    background.run(lambda: "next", answers.append)
    background.finish()
    told, after = answers
    assert after == "next"
    assert told is error if isinstance(error, DiskError | Defect) else isinstance(told, Defect)
    assert type(error).__name__ in f"{type(told).__name__} {told}"
