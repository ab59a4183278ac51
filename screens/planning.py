"""Planning off the screen's thread: after every command and at least once a minute, handed back when done.

The unit's state is never changed in place, so the worker plans what it was given while taps go on. How long it plans is
counted in steps of work, the same on every device; wall time is only a safety stop, and what comes of it says so.
Needs no window: `post` is how an answer comes back. Nothing waits for a plan, and a page without one shows what it can.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from data.disk import Disk
from data.durations import durations_of, shipped_durations, with_running
from data.ledger import Ledger
from protocols.advice import Advice, starting
from protocols.clock import Stamp, longest_s
from protocols.durations import Durations
from protocols.errors import BasinbellError
from protocols.forecast import Change, Ready, changes, forecast, missed
from protocols.hands import NODES, HandsPlan, Slot, plan_hands
from protocols.pieces import chain_of_new
from protocols.shelf import Shelf
from protocols.unit import Unit
from screens.background import Background, Post
from screens.desk import Desk

# A plan is made anew when it is so old, though nothing was given: own figure.
AGE_S = 60
# What a variant or an advice may cost beside the plan itself.
SIDE_NODES = 1500
# Wall time after which planning stops whatever it has: a device that needs it is far slower than any tried.
STOP_S = 3.0
# The unit's own hand times are read from its ledger again after so long.
LEARN_S = 1800


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
    """The answer as of one moment: the plan, when scopes are ready, and what was asked."""

    seq: int
    asked: Asked
    plan: HandsPlan
    ready: dict[str, Ready] = field(default_factory=dict)
    advice: Advice | None = None
    changes: tuple[Change, ...] = ()
    missed: dict[str, Change] = field(default_factory=dict)

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

    def __init__(self, desk: Desk, disk: Disk, post: Post) -> None:
        self._desk = desk
        self._ledger = Ledger(disk)
        self._durations: Durations | None = None
        self._learnt_at: Stamp | None = None
        self._sent: tuple[int, Asked, Stamp] | None = None
        self.asked = Asked()
        self.latest: Planned | None = None
        self.fault = ""
        self.background = Background("plan", post)

    def ask(self, asked: Asked) -> None:
        """Ask for more than the plan from the next look on."""
        self.asked = asked

    def look(self) -> None:
        """Send the worker off where something has changed or the plan is old. Raises ClockError as `Desk.now` does."""
        now, unit, shelf, asked = self._desk.now(), self._desk.unit, self._desk.door.shelf, self.asked
        sent = self._sent
        if sent is not None and sent[:2] == (unit.seq, asked) and longest_s(sent[2], now) < AGE_S:
            return
        self._sent = (unit.seq, asked, now)
        self.background.run(lambda: self._plan(unit, shelf, now, asked), self._take)

    def newest(self, now: Stamp) -> Planned | None:
        """Promise the newest plan, None while there is none or when it is so old that planning must have failed.

        It may be older than the last tap by a moment: a page goes by it until the next one is there, else what it
        shows first would jump to and fro with every tap.
        """
        latest = self.latest
        return latest if latest is not None and latest.age_s(now) < 3 * AGE_S else None

    def advice(self, tag: str) -> Planned | None:
        """Promise the newest answer that holds advice on that scope, None while there is none."""
        latest = self.latest
        return latest if latest is not None and latest.advice is not None and latest.advice.scope == tag else None

    def _take(self, answer: Planned | BasinbellError) -> None:
        if isinstance(answer, Planned):
            self.latest, self.fault = answer, ""
        else:
            self.fault = str(answer)

    # --- on the worker's thread

    def _times(self, now: Stamp) -> Durations:
        if self._durations is None or self._learnt_at is None or longest_s(self._learnt_at, now) >= LEARN_S:
            try:
                self._durations = durations_of(self._ledger)
            except BasinbellError:
                # A ledger that can't be read is said on its own page; planning goes on by the shipped guesses.
                self._durations = self._durations or shipped_durations()
            self._learnt_at = now
        return self._durations

    def _plan(self, unit: Unit, shelf: Shelf, now: Stamp, asked: Asked) -> Planned:
        begun = time.monotonic()
        times = with_running(self._times(now), unit, shelf, now)
        plan = plan_hands(unit, shelf, now, times, NODES, lambda: time.monotonic() - begun, STOP_S)
        ready = forecast(plan, times, unit.seq)
        advice = _advice(unit, shelf, now, times, plan, asked)
        found = tuple(changes(plan, SIDE_NODES)) if asked.variants else ()
        short = missed(plan, ready, times, unit.seq, SIDE_NODES) if asked.variants else {}
        return Planned(unit.seq, asked, plan, ready, advice, found, short)


def _advice(unit: Unit, shelf: Shelf, now: Stamp, times: Durations, plan: HandsPlan, asked: Asked) -> Advice | None:
    scope = unit.scopes.get(asked.tag)
    sha = unit.protocols.get(scope.protocol) if scope is not None else None
    if sha is None or asked.tag in unit.cycles:
        return None
    delay_in_s = None if asked.clean_by_ms is None else (asked.clean_by_ms - now.wall_ms) / 1000
    new = chain_of_new(unit, shelf.protocol(sha), asked.tag, now, times, delay_in_s, asked.delayed)
    return starting(plan.chains, new, plan.room, now, SIDE_NODES)
