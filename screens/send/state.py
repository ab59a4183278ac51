"""What the Send page shows of a sending: plain values, changed on the screen's thread only."""

from __future__ import annotations

from dataclasses import dataclass, field

from data.send_progress import Progress


@dataclass(slots=True)
class State:
    """What the page shows: `waiting` weeks, the one on its way with its progress, and what went wrong.

    `away` says that the destination was not there at the last look; `asks` that it wants a name and password.
    `trouble` is the last failure that concerns the destination, `failed` those of single weeks.
    """

    waiting: tuple[str, ...] = ()
    week: str = ""
    progress: Progress | None = None
    away: bool = False
    asks: bool = False
    trouble: str = ""
    failed: dict[str, str] = field(default_factory=dict)
