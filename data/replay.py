"""Replaying a file of commands with times through the same door as a tap.

One JSON object a line: `at` (RFC 3339: the true time, as a good wall clock would show it), `do`, `subject`, `values`,
`by`, and optionally `after` (the event number that the giver saw). `do` = "clock" moves the handheld's clocks instead:
values `step_s` (its wall clock is set forward or back), `sleep_s` (it sleeps that long) or `reboot_down_s` (it
restarts, without power that long). The whole file is read and checked before anything is written.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from data.disk import Disk
from data.door import Door
from data.opening import open_door
from data.prompt_text import call_facts
from protocols.clock import FakeClock, Stamp
from protocols.commands import check
from protocols.cycle import state_of
from protocols.errors import CommandFault
from protocols.event import Command
from protocols.prompts import calls_between
from protocols.refusals import Refusal
from protocols.shelf import Shelf
from protocols.wall import given_wall, in_calendar

# A day's replay is some thousand lines; a longer one than this is not a replay but an accident.
LINES_MAX = 1_000_000
LINE_LONGEST = 400_000
# Largest step of the wall clock and longest sleep or power cut that a line may name: ten years.
CLOCK_S_MAX = 10 * 366 * 86_400
_CLOCK_VALUES = {"step_s": -CLOCK_S_MAX, "sleep_s": 0, "reboot_down_s": 0}
_MEMBERS = {"at", "do", "subject", "values", "by", "after"}


@dataclass(frozen=True, slots=True)
class Line:
    """One checked line: its number, its time (ms), and the command, or the clock's move where there is none."""

    number: int
    at_ms: int
    command: Command | None
    move: tuple[str, float] = ("", 0)


def read_lines(texts: Iterable[str]) -> list[Line]:
    """Promise every line of a replay file, checked. Raises CommandFault naming the first faulty line's number."""
    lines: list[Line] = []
    free_ms, stepped_ms = -(2**62), 0
    for number, text in enumerate(texts, 1):
        if not text.strip():
            continue
        try:
            line = _line(number, text)
            if line.at_ms < free_ms:
                raise CommandFault("its time is before the end of the line before it; put the lines in order")
            name, value = line.move
            free_ms = line.at_ms + (round(value * 1000) if name in ("sleep_s", "reboot_down_s") else 0)
            stepped_ms += round(value * 1000) if name == "step_s" else 0
            if not in_calendar(free_ms + stepped_ms):
                raise CommandFault("after it the clock shows no year from 1970 to 9998; step it less")
        except CommandFault as fault:
            raise CommandFault(f"line {number}: {fault}") from fault
        lines.append(line)
        if len(lines) > LINES_MAX:
            raise CommandFault(f"line {number}: more than {LINES_MAX} lines; split the file")
    return lines


def _line(number: int, text: str) -> Line:
    if len(text) > LINE_LONGEST:
        raise CommandFault(f"longer than {LINE_LONGEST} characters; split it")
    try:
        plain = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise CommandFault(f"not a JSON object ({error}); write one object a line") from error
    if not isinstance(plain, dict):
        raise CommandFault("not a JSON object; write one object a line")
    unknown = sorted(set(plain) - _MEMBERS)
    if unknown:
        raise CommandFault(f"unknown member {', '.join(unknown)}; known: {', '.join(sorted(_MEMBERS))}")
    at_ms = given_wall(plain.get("at", ""))
    do, values = plain.get("do"), plain.get("values", {})
    if do == "clock":
        return Line(number, at_ms, None, _clock_move(values))
    after = plain.get("after")
    if after is not None and (not isinstance(after, int) or isinstance(after, bool) or after < 0):
        raise CommandFault(f"after is {after!r}, it must be an event number")
    if not isinstance(do, str):
        raise CommandFault("no command name in `do`; see the README's table")
    if do == "purge":
        raise CommandFault("purge is no replay line: a replay has no exported weeks; leave it out")
    command = Command(do, plain.get("subject", ""), values, plain.get("by", ""), after)
    check(command)
    return Line(number, at_ms, command)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise CommandFault("a member is given twice; give each once")
    return found


def _no_constant(name: str) -> None:
    raise CommandFault(f"{name} is not a number of JSON; give a number")


def _clock_move(values: Any) -> tuple[str, float]:
    if not isinstance(values, dict) or len(values) != 1 or next(iter(values)) not in _CLOCK_VALUES:
        raise CommandFault(f"clock takes exactly one of {', '.join(_CLOCK_VALUES)}")
    name, value = next(iter(values.items()))
    low = _CLOCK_VALUES[name]
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= CLOCK_S_MAX:
        raise CommandFault(f"clock: {name} is {value!r}, it must be a number from {low} to {CLOCK_S_MAX}")
    return name, value


class Replay:
    """A record on `disk` driven by checked lines on a simulated clock."""

    def __init__(self, disk: Disk, shelf: Shelf, lines: list[Line]) -> None:
        self.disk = disk
        self.shelf = shelf
        self.lines = lines
        self.clock = FakeClock(lines[0].at_ms if lines else 0, boot="replay-1")
        self.door = self._open()

    def _open(self) -> Door:
        return open_door(self.disk, self.clock, self.shelf, device="replay")

    def run(self) -> Iterator[dict[str, Any]]:
        """Promise one answer per line: accepted or refused and why, the state after, the prompts called meanwhile."""
        for line in self.lines:
            prompts = self._pass(max(0, line.at_ms - self.clock.true_ms) / 1000)
            if line.command is not None:
                answer = self._give(line.command)
            else:
                answer = {"do": "clock", "answer": "moved", line.move[0]: line.move[1]}
                prompts += self._move(*line.move)
            yield {"line": line.number, **answer, "prompts": prompts}

    def _pass(self, seconds: float) -> list[dict[str, Any]]:
        before = self.door.now()
        self.clock.advance(seconds)
        return self._called(before, self.door.now())

    def _called(self, before: Stamp, after: Stamp) -> list[dict[str, Any]]:
        zone = self.door.unit.settings.zone
        return [call_facts(call, before.wall_ms, zone) for call in calls_between(self.door.unit, before, after)]

    def _move(self, name: str, seconds: float) -> list[dict[str, Any]]:
        """Move the clocks; gives the prompts that the waking handheld then calls."""
        if name == "step_s":
            self.clock.step(seconds)
        elif name == "sleep_s":
            # Nothing sounds while it sleeps; what fell due is called at waking, and timed as it fell due.
            return self._pass(seconds)
        else:
            self.door.touch()
            self.clock.reboot(seconds)
            self.door = self._open()
        return []

    def _give(self, command: Command) -> dict[str, Any]:
        answer = self.door.give(command)
        facts: dict[str, Any] = {"do": command.do, "subject": command.subject}
        if isinstance(answer, Refusal):
            facts.update(answer="refused", rule=answer.key, why=answer.why, remedy=answer.remedy)
        else:
            facts.update(answer="accepted", event=answer.id, seq=answer.seq)
            if answer.kind != command.do:
                facts["became"] = answer.kind  # a sign-in with a wrong PIN is kept as what it was
            for name in ("notices", "result", "hold", "holds", "ends", "verdict"):
                if answer.data.get(name):
                    facts[name] = answer.data[name]
        return {**facts, "state": scope_state(self.door, command.subject)}


def scope_state(door: Door, subject: str) -> dict[str, Any] | None:
    """Promise where a scope stands, as plain values; for a bath or person None."""
    scope, cycle = door.unit.scopes.get(subject), door.unit.cycles.get(subject)
    if scope is None:
        return None
    if cycle is None:
        last = scope.last
        return {"cycle": None, "last": last.outcome if last else None, "released_by": last.released_by if last else ""}
    step = door.shelf.protocol(cycle.text_sha256).step(cycle.step)
    facts: dict[str, Any] = {
        "cycle": cycle.id, "step": step.id, "stage": step.stage, "is": state_of(cycle, step).value,
        "seq": cycle.last_seq, "delayed": cycle.delayed, "disinfected": cycle.disinfected,
    }  # fmt: skip
    if step.kind == "count":
        facts["done"] = cycle.done
    if step.kind == "pass":
        facts["passes"] = cycle.passes
    if cycle.soak is not None:
        facts["soak"] = {"bath": cycle.soak.label, "required_s": cycle.soak.required_s, "max_s": cycle.soak.max_s}
    if cycle.hold is not None:
        facts["waits_for_lead"] = cycle.hold.why
    return facts


def replay_lines(disk: Disk, shelf: Shelf, lines: list[Line]) -> Iterator[dict[str, Any]]:
    """Promise the answer to every line, given to a new record on `disk` in order."""
    if lines:
        yield from Replay(disk, shelf, lines).run()
