"""How far a sending has come, as figures for a page and as one line for a terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple


class Progress(NamedTuple):
    """One thing done of a week: `doing` is making, writing, there (already) or checking; `what` a form or a file.

    `number` of `of` says how far; 0 of 0 where that is not known.
    """

    week: str
    doing: str
    what: str
    number: int = 0
    of: int = 0
    length: int = 0

    def __str__(self) -> str:
        place = f" ({self.number} of {self.of})" if self.of else ""
        said = {
            "making": f"making {self.what}", "writing": f"{self.what}, {self.length} bytes",
            "there": f"{self.what} is there", "checking": f"read back {self.what}",
        }[self.doing]  # fmt: skip
        return f"{self.week}: {said}{place}"


Tell = Callable[[Progress], None]


def silent(progress: Progress) -> None:
    """Say nothing."""
