"""What the senses are told each second: every prompt that is due, in words; and that the device must stay awake."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from protocols.clock import Stamp, longest_s
from protocols.errors import ClockError
from protocols.lane import Lane, limit_in_s
from protocols.prompts import Level, Prompt, next_in_s
from protocols.unit import Unit
from screens.desk import Desk
from screens.senses import crier
from screens.senses.choose import Senses
from screens.senses.promise import Level as SenseLevel
from screens.senses.tones import CALLS
from screens.telling import scope_name, step_name
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

_LEVELS: dict[Level, SenseLevel] = {
    Level.SOON: "soon", Level.READY: "ready", Level.LATE: "late", Level.VERY_LATE: "very_late",
}  # fmt: skip
# The witness is told this often how far the clocks were seen: what a power cut can leave unproven. Own figure.
TOUCH_S = 10
# A step that must begin within a time is called once when that starts, and again from here on. Own figure: a person who
# has just lifted a scope is on the way to the rinse and needs no second call before.
BEGIN_CALL_S = 120


class Prompting:
    """Feeds the crier and keeps the device awake; `beat` belongs in the shell's `on_beat`."""

    def __init__(self, senses: Senses) -> None:
        self._senses = senses
        self.crier = senses.crier()
        self._touched: Stamp | None = None
        self._looked: Unit | None = None
        self._change_at_s: float | None = None

    def failing(self) -> list[tuple[str, str]]:
        """Give each sense that does not work now, with the id of the reason."""
        found = list(self.crier.failures.items())
        for name, answer in (("keep_awake", self._senses.keep_awake.can()), ("alarms", self._senses.alarms.can())):
            if not answer:
                found.append((name, answer.why))
        return found

    def beat(self, shell: Shell) -> None:
        """Call what the shell has just seen, keep awake while anything runs, let the witness see the clocks."""
        now, prompts = shell.seen, shell.prompts
        if now is None:
            return
        try:
            standing = all_mapped(prompts, shell.desk, shell.lanes, now)
            self.crier.tick(standing, now.longest_ms / 1000)
            self._senses.keep_awake.hold(bool(standing) or any(lane.cycle.running for lane in shell.lanes))
            if self._touched is None or longest_s(self._touched, now) >= TOUCH_S:
                self._touched = now
                shell.desk.door.touch()
        except ClockError:
            return  # the shell has said so on the strip

    def next_in_s(self, shell: Shell) -> float | None:
        """Give the seconds until the crier has something to do: a call again, or a prompt that falls due; or None.

        What fell due since the shell looked, as while it drew, is to be done at once: 0.
        """
        unit, seen = shell.desk.unit, shell.seen
        if seen is None:
            return None  # the clock is in doubt; the next look asks it again
        seen_s, now_s = seen.longest_ms / 1000, shell.desk.now().longest_ms / 1000
        if self._looked is not unit or (self._change_at_s is not None and seen_s >= self._change_at_s):
            # As long as nothing is recorded, what comes next is known until it has been seen.
            change_s = next_change_s(unit, seen)
            self._looked, self._change_at_s = unit, None if change_s is None else seen_s + change_s
        waits = [at_s - now_s for at_s in (self.crier.next_at_s(), self._change_at_s) if at_s is not None]
        return max(0.0, min(waits)) if waits else None


def next_change_s(unit: Unit, now: Stamp) -> float | None:
    """Promise the seconds until a prompt falls due or is called otherwise than before, or None when none will be."""
    due_s = next_in_s(unit, now)
    timers = [cycle.timer for cycle in unit.cycles.values() if cycle.timer is not None and cycle.timer.kind == "start"]
    limits = [left_s for timer in timers if (left_s := limit_in_s(timer, now)) is not None]
    pressing = [left_s - BEGIN_CALL_S for left_s in limits if left_s > BEGIN_CALL_S]
    return min([*pressing, due_s] if due_s is not None else pressing, default=None)


def all_mapped(prompts: Sequence[Prompt], desk: Desk, lanes: Sequence[Lane], now: Stamp) -> list[crier.Prompt]:
    """Promise prompts as the crier takes them, in the same order."""
    if not prompts:
        return []
    by_tag = {lane.scope: lane for lane in lanes}
    # Scopes are only ever added to the list, so a scope keeps its call.
    calls = {tag: number for number, tag in enumerate(desk.unit.scopes)}
    return [_mapped(prompt, by_tag.get(prompt.scope), calls[prompt.scope] % CALLS, now) for prompt in prompts]


def _mapped(prompt: Prompt, lane: Lane | None, call: int, now: Stamp) -> crier.Prompt:
    """Promise a prompt as the crier takes it: stable key, call of the scope, level, words shown and spoken."""
    step = step_name(lane.step).lower() if lane else prompt.step
    what = say(f"prompt.{prompt.kind}", step=step)
    name = scope_name(lane) if lane else prompt.scope
    late = prompt.level >= Level.LATE
    spoken = say("prompt.late" if late else "prompt.spoken", name=name, what=what)
    level = _LEVELS[prompt.level]
    if prompt.kind == "start" and prompt.level is Level.READY and not _pressing(lane, now):
        level = "soon"
    key = f"{prompt.cycle}|{prompt.step}|{prompt.kind}"
    return crier.Prompt(key, prompt.scope, call, level, f"{prompt.scope} {what}", spoken)


def _pressing(lane: Lane | None, now: Stamp) -> bool:
    left_s = limit_in_s(lane.cycle.timer, now) if lane is not None else None
    return left_s is None or left_s <= BEGIN_CALL_S
