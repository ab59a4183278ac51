"""A scope's lane: the figures that the Bench, the Watch and a closing table show for it. Numbers only, no words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from protocols.clock import Stamp, longest_s, proven_s
from protocols.counts import rinse_times
from protocols.model import Protocol, Step
from protocols.prompts import Level, Prompt, due
from protocols.shelf import Shelf
from protocols.states import State, state_of
from protocols.stock import Dip
from protocols.unit import Cycle, Timer, Unit


@dataclass(frozen=True, slots=True)
class Lane:
    """One scope in a cycle, as of one moment. Times in seconds; `level` is None while nobody is wanted.

    `passed_s` is proven time on the running timer, `needed_s` its minimum, `left_s` what is missing (0 when ready),
    `limit_in_s` the time to its limit (negative: over) and `fraction` how full the coil is, 0 to 1. `times` is how
    often a counted step is done, by protocol, label and chosen limits. `strip_in_s` is the time until the strip that
    was dipped for it may be read (negative: since then), `strip_left_s` until that is too late; None without one.
    """

    scope: str
    cycle: Cycle
    protocol: Protocol
    step: Step
    state: State
    kind: str
    level: Level | None
    passed_s: float
    needed_s: float
    left_s: float
    limit_in_s: float | None
    delay_in_s: float | None
    position: int
    length: int
    times: int
    strip_in_s: float | None = None
    strip_left_s: float | None = None

    @property
    def fraction(self) -> float:
        return min(1.0, self.passed_s / self.needed_s) if self.needed_s > 0 else 1.0

    @property
    def over_s(self) -> float:
        """How long past its nearest limit; 0 when inside."""
        limit, delay = self.limit_in_s, self.delay_in_s
        nearest = delay if limit is None else limit if delay is None else min(limit, delay)
        return -nearest if nearest is not None and nearest < 0 else 0.0


def lanes(unit: Unit, shelf: Shelf, now: Stamp, prompts: Sequence[Prompt] | None = None) -> list[Lane]:
    """Promise a lane for every open cycle: past a limit first, then what is ready, then the nearest need.

    `prompts` are those due at `now` where they are known already.
    """
    wanted: dict[str, Prompt] = {}
    for prompt in due(unit, now) if prompts is None else prompts:
        wanted.setdefault(prompt.scope, prompt)
    found = [_lane(unit, cycle, shelf, now, wanted.get(cycle.scope)) for cycle in unit.cycles.values()]
    return sorted(found, key=_need)


def _need(lane: Lane) -> tuple[int, float, float, str]:
    level = -1 if lane.level is None else int(lane.level)
    waiting = lane.left_s if lane.kind else max(0.0, lane.strip_in_s or 0.0)
    return -level, -lane.over_s, waiting, lane.scope


def _lane(unit: Unit, cycle: Cycle, shelf: Shelf, now: Stamp, prompt: Prompt | None) -> Lane:
    protocol = shelf.protocol(cycle.text_sha256)
    step = protocol.step(cycle.step)
    timer = cycle.timer
    passed = (now.proven_ms - timer.since.proven_ms) / 1000 if timer else 0.0
    needed = (timer.min_s or 0.0) if timer else 0.0
    return Lane(
        cycle.scope, cycle, protocol, step, state_of(cycle, step), timer.kind if timer else "",
        prompt.level if prompt else None, passed, needed, max(0.0, needed - passed), limit_in_s(timer, now),
        None if "leak" in cycle.flags else limit_in_s(cycle.delay, now), protocol.place(cycle.step, cycle.flags),
        len(protocol.order(cycle.flags)), rinse_times(unit, cycle, step),
        *_strip(cycle.dip, now),
    )  # fmt: skip


def _strip(dip: Dip | None, now: Stamp) -> tuple[float | None, float | None]:
    if dip is None:
        return None, None
    left_s = dip.max_s - longest_s(dip.at, now) if dip.max_s is not None else None
    return (dip.min_s or 0) - proven_s(dip.at, now), left_s


def limit_in_s(timer: Timer | None, now: Stamp) -> float | None:
    """Promise the seconds to a timer's limit on the longest possible time, negative when past; None without one."""
    if timer is None or timer.max_s is None:
        return None
    return timer.max_s - timer.already_s - (now.longest_ms - timer.since.longest_ms) / 1000
