"""Planning off the screen's thread: after every command and once in some minutes, handed back when done.

The unit's state is never changed in place, so the worker plans what it was given while taps go on. How long it plans is
counted in steps of work, the same on every device; processor time is only a safety stop, and what comes of it says so.
Needs no window: `post` is how an answer comes back, `give_way` lets the screen's thread go first. Nothing waits for a
plan, and a page without one shows what it can.
The solver is loaded on the worker's thread (`planning_work`), so that a start does not wait for it either.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from data.disk import Disk
from protocols.calibration import Calibration
from protocols.clock import Stamp, longest_s
from protocols.errors import BasinbellError
from protocols.shelf import Shelf
from protocols.unit import Unit
from screens.background import Background, Post
from screens.desk import Desk

if TYPE_CHECKING:
    from protocols.advice import Advice
    from protocols.forecast import Change, Ready
    from protocols.hands import HandsPlan, Slot
    from screens.planning_work import Work

# A plan is made anew when it is so old, though nothing was given. Where it costs much, as with dozens of scopes, it may
# grow older, for so long that planning takes no more than its share of the processor. Own figures.
AGE_S, MOST_AGE_S = 60, 240
SHARE = 1 / 200


@dataclass(frozen=True)
class Asked:
    """What is asked besides the plan: advice on starting the scope `tag`, and what would help (`variants`).

    `clean_by_ms` is by which wall time its cleaning must begin, None where that is not known (yet); `delayed` says that
    it goes the delayed way.
    """

    tag: str = ""
    clean_by_ms: int | None = None
    delayed: bool = False
    variants: bool = False


@dataclass(frozen=True)
class Planned:
    """The answer as of one moment: the plan, when scopes are ready, and what was asked.

    `cost_s` is the processor time that it took.
    """

    seq: int
    asked: Asked
    plan: HandsPlan
    ready: dict[str, Ready] = field(default_factory=dict)
    advice: Advice | None = None
    changes: tuple[Change, ...] = ()
    missed: dict[str, Change] = field(default_factory=dict)
    cost_s: float = 0.0

    @property
    def good_for_s(self) -> float:
        """Promise after how long, where nothing was recorded, another plan is worth its processor time."""
        return min(MOST_AGE_S, max(AGE_S, self.cost_s / SHARE))

    @property
    def cut_short(self) -> bool:
        """Promise whether the safety stop struck, so that another run might plan otherwise."""
        return self.plan.stopped

    def age_s(self, now: Stamp) -> float:
        return longest_s(self.plan.at, now)

    def slots(self, now: Stamp) -> list[tuple[float, Slot]]:
        """Promise the slots with their start in seconds from now."""
        age_s = self.age_s(now)
        return [(slot.start_s - age_s, slot) for slot in self.plan.slots]


class Planning:
    """Keeps the newest plan. `look` belongs in every look of the shell; `ask` adds what a page needs."""

    def __init__(self, desk: Desk, disk: Disk, post: Post, give_way: Callable[[], None] = lambda: None) -> None:
        self._desk = desk
        self._disk = disk
        self._give_way = give_way
        self._work: Work | None = None
        self._sent: tuple[int, Asked, Stamp] | None = None
        self.asked = Asked()
        self.latest: Planned | None = None
        self.fault = ""
        # How forecasts held since the app was opened; they are kept in no file.
        self.calibration = Calibration()
        self.background = Background("plan", post)

    def ask(self, asked: Asked) -> None:
        """Ask for more than the plan from the next look on."""
        self.asked = asked

    def look(self) -> None:
        """Send the worker off where something has changed or the plan is old. Raises ClockError as `Desk.now` does."""
        now, unit, shelf, asked = self._desk.now(), self._desk.unit, self._desk.door.shelf, self.asked
        sent = self._sent
        age_s = AGE_S if self.latest is None else self.latest.good_for_s
        if sent is not None and sent[:2] == (unit.seq, asked) and longest_s(sent[2], now) < age_s:
            return
        self._sent = (unit.seq, asked, now)
        self.background.run(lambda: self._plan(unit, shelf, now, asked), self._take)

    def newest(self, now: Stamp) -> Planned | None:
        """Promise the newest plan, None while there is none or when it is so old that planning must have failed.

        It may be older than the last tap by a moment: a page goes by it until the next one is there, else what it
        shows first would jump to and fro with every tap.
        """
        latest = self.latest
        return latest if latest is not None and latest.age_s(now) < 3 * latest.good_for_s else None

    def advice(self, tag: str) -> Planned | None:
        """Promise the newest answer that holds advice on that scope, None while there is none."""
        latest = self.latest
        return latest if latest is not None and latest.advice is not None and latest.advice.scope == tag else None

    def _take(self, answer: Planned | BasinbellError) -> None:
        if isinstance(answer, Planned):
            self.latest, self.fault = answer, ""
            unit = self._desk.unit
            self.calibration = self.calibration.ended(unit).noting(unit, answer.plan.at, answer.ready)
        else:
            self.fault = str(answer)

    def _plan(self, unit: Unit, shelf: Shelf, now: Stamp, asked: Asked) -> Planned:
        """On the worker's thread."""
        if self._work is None:
            from screens.planning_work import Work

            self._work = Work(self._disk, self._give_way)
        return self._work.plan(unit, shelf, now, asked)
