"""One thread for work that may block, with a short queue in which the most urgent and latest wins."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from data.place import leave_thread
from screens.senses.promise import LOG


@dataclass(frozen=True)
class Job:
    """Something to do off the screen's thread; the higher `urgency`, the sooner."""

    key: str
    urgency: int
    order: int
    action: Callable[[], None]


class Worker:
    """Does one job at a time and drops the least urgent, oldest one when more than `most` wait."""

    def __init__(self, name: str, most: int = 4) -> None:
        """Start no thread yet; the first job starts it."""
        self._name = name
        self._most = most
        self._waiting: list[Job] = []
        self._order = 0
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._closed = False

    def submit(self, key: str, urgency: int, action: Callable[[], None]) -> bool:
        """Add a job, in place of a waiting one of the same key; answer whether it is waiting now."""
        with self._changed:
            if self._closed:
                return False
            self._order += 1
            job = Job(key, urgency, self._order, action)
            self._waiting = [other for other in self._waiting if other.key != key] + [job]
            if len(self._waiting) > self._most:
                self._waiting.remove(min(self._waiting, key=lambda other: (other.urgency, other.order)))
            kept = job in self._waiting
            if kept and self._thread is None:
                self._thread = threading.Thread(target=self._run, name=self._name, daemon=True)
                self._thread.start()
            self._changed.notify_all()
            return kept

    def drop(self, key: str) -> None:
        """Take back the waiting job of a key; one already begun goes on."""
        with self._changed:
            self._waiting = [job for job in self._waiting if job.key != key]

    def waiting(self) -> list[str]:
        """Give the keys of waiting jobs in the order in which they will be done."""
        with self._changed:
            return [job.key for job in sorted(self._waiting, key=_soonest_first)]

    def close(self, timeout_s: float = 1.0) -> None:
        """Take no more jobs, forget waiting ones, and give the one under way some time to end."""
        with self._changed:
            self._closed = True
            self._waiting = []
            self._changed.notify_all()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(timeout_s)

    def _next(self) -> Job | None:
        with self._changed:
            while not self._waiting and not self._closed:
                self._changed.wait()
            if self._closed:
                return None
            job = min(self._waiting, key=_soonest_first)
            self._waiting.remove(job)
            return job

    def _run(self) -> None:
        try:
            self._jobs()
        finally:
            leave_thread()

    def _jobs(self) -> None:
        while (job := self._next()) is not None:
            try:
                job.action()
            except Exception as error:
                # One message that cannot be spoken must not silence all later ones.
                LOG.warning("%s: job %s did not work: %s: %s", self._name, job.key, type(error).__name__, error)


def _soonest_first(job: Job) -> tuple[int, int]:
    return -job.urgency, -job.order
