"""What the app does when code of its own fails: the calls of all scopes go on, and the person is told.

What was recorded is safe whatever happens on a page, and soaks wait for nobody; so no defect, and no clock or disk that
fails where no page expects it, ends the app. Each is said, and logged in full once; most tests fail by it instead.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from kivy.base import ExceptionHandler, ExceptionManager

from protocols.errors import BasinbellError, ClockError, Defect
from screens.desk import Told
from screens.words import say

if TYPE_CHECKING:
    from collections.abc import Callable

LOG = logging.getLogger("basinbell")


class Surviving(ExceptionHandler):  # type: ignore[misc]
    """Hears what nobody caught in a touch, a key, a look or a timer, from `begin` to `end`."""

    def __init__(self, tell: Callable[[Told], None]) -> None:
        """`tell` shows an answer on the strip."""
        super().__init__()
        self._tell = tell
        self._heard: set[str] = set()

    def begin(self) -> None:
        """Promise that nothing but a request to end ends the app from now on."""
        ExceptionManager.add_handler(self)

    def end(self) -> None:
        ExceptionManager.remove_handler(self)

    def handle_exception(self, inst: BaseException) -> int:
        """Answer Kivy: go on after an error, but let a request to end (SystemExit, a key) end the app."""
        if not isinstance(inst, Exception):
            return int(ExceptionManager.RAISE)
        self._log(inst)
        self._say(inst)
        return int(ExceptionManager.PASS)

    def look_failed(self, error: Exception) -> None:
        """Log and say that a look at the clock failed; the same that fails at every look is said once."""
        if self._log(error):
            self._say(error)

    def _log(self, error: Exception) -> bool:
        """Log what was not heard before in full, and say whether this is such."""
        known = f"{type(error).__name__}: {error}"
        if known in self._heard:
            return False
        self._heard.add(known)
        LOG.error("the app goes on after an error", exc_info=error)
        return True

    def _say(self, error: Exception) -> None:
        try:
            self._tell(told_of(error))
        except Exception:  # the strip itself may be what fails; the calls go on all the same
            LOG.exception("an error could not be said")


def told_of(error: Exception) -> Told:
    """Promise the words for an error that nobody expected where it came up."""
    if isinstance(error, ClockError):
        return Told(False, say("told.clock", why=error), rule="clock")
    if isinstance(error, BasinbellError) and not isinstance(error, Defect):
        return Told(False, say("told.unread", why=error), rule="unread")
    why = f"{type(error).__name__}: {error}"
    return Told(False, say("told.defect", why=why), say("told.defect.remedy"), "defect")
