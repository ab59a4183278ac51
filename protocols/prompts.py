"""Which prompt is due, how urgent, and when it calls again. No sound here: the screens' senses make that.

Levels: soon (once), ready (hands are wanted), late (past a limit), very late. A prompt repeats until somebody acts on
the scope; it is never early, for a ready is measured on proven time, and it never hides behind another: all that are
due come out, most needed first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from math import ceil, inf

from protocols.clock import Stamp
from protocols.unit import Cycle, Settings, Timer, Unit


class Level(IntEnum):
    """How urgent a prompt is; greater is more urgent."""

    SOON = 0
    READY = 1
    LATE = 2
    VERY_LATE = 3


# Seconds between calls of one prompt; soon calls once. Our own rhythm: no standard speaks of bench prompts.
REPEAT_S = {Level.SOON: inf, Level.READY: 60.0, Level.LATE: 30.0, Level.VERY_LATE: 15.0}

# A strip's window may be seconds long: this many before it, one call brings the eyes back to it. Own figure.
STRIP_SOON_S = 10

# The record knows whole milliseconds; half of one tells two moments apart from two ways to write the same one.
HALF_MS_S = 0.0005


@dataclass(frozen=True, slots=True)
class Prompt:
    """One scope that wants somebody: level, what kind of timer, and for how long at that level.

    `over_s` is the time past the limit (late levels) or past the minimum (ready), and is negative for soon.
    """

    scope: str
    cycle: str
    step: str
    kind: str
    level: Level
    over_s: float

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What makes it the same prompt until somebody acts."""
        return self.cycle, self.step, self.kind, self.level.name


@dataclass(frozen=True, slots=True)
class Call:
    """One prompt's calls within a stretch of time: the first at `after_s` from its start, `times` in all."""

    after_s: float
    times: int
    prompt: Prompt


def due(unit: Unit, now: Stamp) -> list[Prompt]:
    """Promise every prompt that is due now, most needed first."""
    found = [p for cycle in unit.cycles.values() for p in _of_cycle(cycle, unit.settings, now)]
    return sorted(found, key=lambda p: (-p.level, -p.over_s, p.scope))


def next_in_s(unit: Unit, now: Stamp) -> float | None:
    """Promise the seconds until a prompt falls due or becomes more urgent, or None when none will by itself."""
    starts = [
        start_s
        for cycle in unit.cycles.values()
        for timer in _timers(cycle)
        for _, start_s, end_s in _levels(timer, unit.settings, now)
        if 0 < start_s < end_s
    ]
    return min(starts, default=None)


def calls_between(unit: Unit, since: Stamp, until: Stamp) -> list[Call]:
    """Promise the calls after `since` and up to `until`, in order of time; the unit must not change in between."""
    length_s = (until.longest_ms - since.longest_ms) / 1000
    found: list[Call] = []
    for cycle in unit.cycles.values():
        for timer in _timers(cycle):
            for level, start_s, end_s in _levels(timer, unit.settings, since):
                # a call at the end of the stretch is in it, one at the end of its level is not, however floats round
                end_s = min(end_s - HALF_MS_S, length_s + HALF_MS_S)
                found.extend(_calls(cycle, timer, level, start_s, end_s))
    return sorted(found, key=lambda c: (c.after_s, -c.prompt.level, -c.prompt.over_s, c.prompt.scope))


def _calls(cycle: Cycle, timer: Timer, level: Level, start_s: float, end_s: float) -> Iterator[Call]:
    """The calls of one level at start, start + every, ...: those after the stretch began and before `end_s`."""
    every = REPEAT_S[level]
    first = start_s
    if first <= 0:
        first += (int(-start_s // every) + 1) * every
    if first < end_s:
        times = max(1, ceil((end_s - first) / every))
        yield Call(first, times, Prompt(cycle.scope, cycle.id, cycle.step, timer.kind, level, first - start_s))


def _of_cycle(cycle: Cycle, settings: Settings, now: Stamp) -> Iterator[Prompt]:
    for timer in _timers(cycle):
        for level, start_s, end_s in _levels(timer, settings, now):
            if start_s <= 0 < end_s:
                over_s = -start_s + (settings.very_late_s if level is Level.VERY_LATE else 0)
                if level is Level.SOON:
                    over_s = -end_s
                yield Prompt(cycle.scope, cycle.id, cycle.step, timer.kind, level, over_s)


def _timers(cycle: Cycle) -> Iterator[Timer]:
    if cycle.timer is not None:
        yield cycle.timer
    if cycle.delay is not None and "leak" not in cycle.flags:
        yield cycle.delay
    if cycle.dip is not None:
        # Past its window a strip is void, which a new one mends: it goes on calling, but the scope is over no limit.
        ready_s = cycle.dip.min_s or 0
        yield Timer("strip", cycle.dip.at, min_s=ready_s, warn_s=ready_s - STRIP_SOON_S)
    if cycle.hold is not None:
        yield Timer("lead", cycle.last_at, min_s=0)


def _levels(timer: Timer, settings: Settings, now: Stamp) -> Iterator[tuple[Level, float, float]]:
    """Each level with its start and end, in seconds from now (negative: already past); one that ends first is none."""
    proven_s = (now.proven_ms - timer.since.proven_ms) / 1000
    longest_s = timer.already_s + (now.longest_ms - timer.since.longest_ms) / 1000
    late = inf
    if timer.max_s is not None:
        # A limit is passed when the time is beyond it, not on it: a millisecond, the smallest time the record knows.
        late = (round((timer.max_s - longest_s) * 1000) + 1) / 1000
    ready = inf
    if timer.min_s is not None:
        ready = timer.min_s - proven_s
    elif timer.kind == "start":
        ready = -proven_s
    if timer.warn_s is not None:
        yield Level.SOON, timer.warn_s - longest_s, min(ready, late)
    elif timer.min_s is not None and timer.min_s >= 2 * settings.soon_s:
        yield Level.SOON, ready - settings.soon_s, min(ready, late)
    yield Level.READY, ready, late
    yield Level.LATE, late, late + settings.very_late_s
    yield Level.VERY_LATE, late + settings.very_late_s, inf
