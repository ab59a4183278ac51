"""Work off the screen's thread: one job at a time, its answer handed back on the screen's thread.

For reading that may take long (the ledger, the journal), never for giving a command: the door has one thread. Needs
no window; `post` is how an answer comes back (Kivy's clock in the app, a list in tests of plain Python).
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Any, NamedTuple

from data.place import leave_thread
from protocols.clock import Stamp, proven_s
from protocols.errors import BasinbellError, Defect

# Shorter reading shows no progress: words that flash by only disquiet.
PROGRESS_AFTER_S = 0.5

Post = Callable[[Callable[[], None]], None]
LOG = logging.getLogger("basinbell.background")


class _Job(NamedTuple):
    """What is to be done, who gets the answer, and whether a newer job may take its place while it waits."""

    work: Callable[[], Any]
    then: Callable[[Any], None]
    replaceable: bool


class Background:
    """Runs one job after the other: `run` what is only read, of which the newest counts, and `do` what must be done."""

    def __init__(self, name: str, post: Post) -> None:
        self._name = name
        self._post = post
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._waiting: list[_Job] = []
        self.stopping = threading.Event()

    @property
    def busy(self) -> bool:
        """Promise whether a job runs or waits."""
        with self._lock:
            return self._thread is not None

    def run(self, job: Callable[[], Any], then: Callable[[Any], None]) -> None:
        """Promise that `then` gets what `job` gave, or the BasinbellError that it raised, on the screen's thread.

        One that still waits when another comes is left out, and `then` with it: only the newest question counts.
        """
        with self._lock:
            self._waiting = [other for other in self._waiting if not other.replaceable]
        self._add(_Job(job, then, replaceable=True))

    def do(self, job: Callable[[], Any], then: Callable[[Any], None]) -> None:
        """Promise the same of a job that no other takes the place of: what writes, or was asked for by a press."""
        self._add(_Job(job, then, replaceable=False))

    def _add(self, job: _Job) -> None:
        with self._lock:
            self._waiting.append(job)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name=self._name, daemon=True)
                self._thread.start()

    def finish(self) -> None:
        """Promise that no job runs any more; for the end of the app, and for tests that must not wait by time."""
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join()

    def stop(self) -> None:
        """Ask the job under way to end early (it looks at `stopping`) and wait for it."""
        self.stopping.set()
        self.finish()
        self.stopping.clear()

    def _work(self) -> None:
        try:
            self._jobs()
        finally:
            leave_thread()

    def _jobs(self) -> None:
        while True:
            with self._lock:
                if not self._waiting:
                    self._thread = None
                    return
                job = self._waiting.pop(0)
            self._post(_handing(job.then, _answer(job.work)))


def takes_long(asked: Stamp | None, now: Stamp) -> bool:
    """Promise whether what was asked for then, if anything, has taken so long that its progress is to be shown."""
    return asked is not None and proven_s(asked, now) >= PROGRESS_AFTER_S


def _answer(job: Callable[[], Any]) -> Any:
    try:
        return job()
    except BasinbellError as error:
        return error
    except Exception as error:
        # A defect of one reading must not end all later ones; it is told in full, and the page says that it is one.
        LOG.exception("a job in the background failed")
        return Defect(f"{type(error).__name__}: {error}; please report it")


def _handing(then: Callable[[Any], None], answer: Any) -> Callable[[], None]:
    return lambda: then(answer)
