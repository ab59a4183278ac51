"""Work off the screen's thread: one job at a time, its answer handed back on the screen's thread.

For reading that may take long (the ledger, the journal), never for giving a command: the door has one thread. Needs
no window; `post` is how an answer comes back (Kivy's clock in the app, a list in tests of plain Python).
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from data.place import leave_thread
from protocols.clock import Stamp, proven_s
from protocols.errors import BasinbellError

# Shorter reading shows no progress: words that flash by only disquiet.
PROGRESS_AFTER_S = 0.5

Post = Callable[[Callable[[], None]], None]


class Background:
    """Runs the newest job asked for; one asked for while another runs waits, and replaces one that waits already."""

    def __init__(self, name: str, post: Post) -> None:
        self._name = name
        self._post = post
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._next: tuple[Callable[[], Any], Callable[[Any], None]] | None = None
        self.stopping = threading.Event()

    @property
    def busy(self) -> bool:
        """Promise whether a job runs or waits."""
        with self._lock:
            return self._thread is not None

    def run(self, job: Callable[[], Any], then: Callable[[Any], None]) -> None:
        """Promise that `then` gets what `job` gave, or the BasinbellError that it raised, on the screen's thread."""
        with self._lock:
            self._next = (job, then)
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
                if self._next is None:
                    self._thread = None
                    return
                (job, then), self._next = self._next, None
            answer = _answer(job)
            self._post(_handing(then, answer))


def takes_long(asked: Stamp | None, now: Stamp) -> bool:
    """Promise whether what was asked for then, if anything, has taken so long that its progress is to be shown."""
    return asked is not None and proven_s(asked, now) >= PROGRESS_AFTER_S


def _answer(job: Callable[[], Any]) -> Any:
    try:
        return job()
    except BasinbellError as error:
        return error


def _handing(then: Callable[[Any], None], answer: Any) -> Callable[[], None]:
    return lambda: then(answer)
