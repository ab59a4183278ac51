"""What the planner's worker does: the unit's own hand times, the plan, and what was asked besides."""

from __future__ import annotations

import time
from collections.abc import Callable

from data.disk import Disk
from data.durations import durations_of, shipped_durations, with_running
from data.ledger import Ledger
from protocols.advice import Advice, starting
from protocols.clock import Stamp, longest_s
from protocols.durations import Durations
from protocols.errors import BasinbellError
from protocols.forecast import changes, forecast, missed
from protocols.hands import NODES, HandsPlan, plan_hands
from protocols.pace import Pace
from protocols.pieces import chain_of_new
from protocols.shelf import Shelf
from protocols.unit import Unit
from screens.planning import Asked, Planned

# What a variant or an advice may cost beside the plan itself.
SIDE_NODES = 1500
# Processor time after which a plan stops with what it has: a device that needs it is far slower than any tried.
STOP_S = 3.0
# The unit's own hand times are read from its ledger again after so long.
LEARN_S = 1800


class Work:
    """Plans what it is given; keeps the hand times it has learnt and the last plan. Used by one thread at a time.

    `give_way` is called about every half millisecond of work and may wait.
    """

    def __init__(self, disk: Disk, give_way: Callable[[], None]) -> None:
        self._ledger = Ledger(disk)
        self._give_way = give_way
        self._durations: Durations | None = None
        self._learnt_at: Stamp | None = None
        self._last: HandsPlan | None = None

    def plan(self, unit: Unit, shelf: Shelf, now: Stamp, asked: Asked) -> Planned:
        """Promise the plan as of `now`, with what is asked of it."""
        begun_s = time.thread_time()

        def within_time() -> bool:
            return self._unhurried() or time.thread_time() - begun_s >= STOP_S

        times = with_running(self._times(now), unit, shelf, now)
        plan = self._last = plan_hands(unit, shelf, now, times, NODES, within_time, self._last)
        ready = forecast(plan, times, unit.seq, pace=self._unhurried)
        advice = _advice(unit, shelf, now, times, plan, asked, self._unhurried)
        found = tuple(changes(plan, SIDE_NODES, self._unhurried)) if asked.variants else ()
        short = missed(plan, ready, times, unit.seq, SIDE_NODES, self._unhurried) if asked.variants else {}
        return Planned(unit.seq, asked, plan, ready, advice, found, short, time.thread_time() - begun_s)

    def _unhurried(self) -> bool:
        """The pace of work that never stops by itself."""
        self._give_way()
        return False

    def _times(self, now: Stamp) -> Durations:
        if self._durations is None or self._learnt_at is None or longest_s(self._learnt_at, now) >= LEARN_S:
            try:
                self._durations = durations_of(self._ledger)
            except BasinbellError:
                # A ledger that can't be read is said on its own page; planning goes on by the shipped guesses.
                self._durations = self._durations or shipped_durations()
            self._learnt_at = now
        return self._durations


def _advice(
    unit: Unit, shelf: Shelf, now: Stamp, times: Durations, plan: HandsPlan, asked: Asked, pace: Pace
) -> Advice | None:
    scope = unit.scopes.get(asked.tag)
    sha = unit.protocols.get(scope.protocol) if scope is not None else None
    if sha is None or asked.tag in unit.cycles:
        return None
    delay_in_s = None if asked.clean_by_ms is None else (asked.clean_by_ms - now.wall_ms) / 1000
    new = chain_of_new(unit, shelf.protocol(sha), asked.tag, now, times, delay_in_s, asked.delayed)
    return starting(plan.chains, new, plan.room, now, SIDE_NODES, pace)
