"""The worker does one job at a time, the most urgent and latest first, and outlives a job that fails."""

from __future__ import annotations

import threading

from screens.senses.worker import Worker

PATIENCE_S = 10.0
"""How long a test waits for a thread before it fails; nothing waits this long when all is well."""


class Held:
    """A worker whose first job is held until `go`, so that a queue can be built up behind it."""

    def __init__(self, most: int = 4) -> None:
        self.worker = Worker("test", most=most)
        self.done: list[str] = []
        self._begun, self._let_go, self._all = threading.Event(), threading.Event(), threading.Event()
        self.worker.submit("first", 9, self._hold)
        assert self._begun.wait(PATIENCE_S)

    def _hold(self) -> None:
        self._begun.set()
        self._let_go.wait(PATIENCE_S)

    def add(self, key: str, urgency: int, text: str | None = None) -> bool:
        return self.worker.submit(key, urgency, lambda: self.done.append(text or key))

    def go(self) -> list[str]:
        """Let everything that waits be done, and give it in the order in which it was."""
        self.worker.submit("last", -1, self._all.set)
        self._let_go.set()
        assert self._all.wait(PATIENCE_S)
        self.worker.close(PATIENCE_S)
        return self.done


def test_the_most_urgent_and_latest_come_first() -> None:
    held = Held(most=5)
    for key, urgency in (("a", 1), ("b", 3), ("c", 3), ("d", 2)):
        assert held.add(key, urgency)
    assert held.worker.waiting() == ["c", "b", "d", "a"]
    assert held.go() == ["c", "b", "d", "a"]


def test_a_full_queue_drops_the_least_urgent_and_oldest() -> None:
    held = Held(most=3)
    for key in ("a", "b", "c"):
        held.add(key, 2)
    assert held.add("urgent", 3)
    assert held.worker.waiting() == ["urgent", "c", "b"]
    assert not held.add("unimportant", 1), "it is told that it will not be done"
    held.worker.drop("c")
    assert held.go() == ["urgent", "b"]


def test_a_newer_job_takes_the_place_of_one_of_the_same_key() -> None:
    held = Held()
    held.add("B2", 1, "ready")
    held.add("B2", 2, "late")
    assert held.go() == ["late"]


def test_a_job_that_fails_does_not_end_the_worker() -> None:
    held = Held()
    held.worker.submit("broken", 5, lambda: 1 / 0)
    held.add("after", 1)
    assert held.go() == ["after"]
    assert not held.add("too late", 5), "a closed worker takes nothing"
