"""The one answer that every sense gives: whether it can, and if not, why."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

LOG = logging.getLogger("basinbell.senses")

Level = Literal["soon", "ready", "late", "very_late"]
LEVELS: tuple[Level, ...] = ("soon", "ready", "late", "very_late")
"""Urgency, rising."""


@dataclass(frozen=True)
class Can:
    """Says whether a sense can, or could; `why` is the id of the words that tell a person why not."""

    ok: bool
    why: str = ""

    def __bool__(self) -> bool:
        return self.ok


YES = Can(True)


def no(why: str) -> Can:
    """Give the answer that a sense cannot, for the reason with this message id."""
    return Can(False, f"why.{why}")


def attempt(what: str, action: Callable[[], Can], why: str = "failed") -> Can:
    """Give what `action` answers, or that it cannot when it raises anything at all.

    A sense sits on drivers of a device that may vanish at any time. Whatever they raise must not stop the
    work at the basin, so everything is caught here, logged, and shown on the Bench instead.
    """
    try:
        return action()
    except Exception as error:
        LOG.warning("%s did not work: %s: %s", what, type(error).__name__, error)
        return no(why)
