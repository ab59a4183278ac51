"""What the app would call from now on if nobody acts: for the alarms that take its place while it is not in front.

The app's own crier, made silent, is taken through the coming minutes, so an alarm comes when the call would have come
and says the same. Needs no window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import ceil

from protocols.clock import Stamp
from protocols.prompts import calls_between
from screens.desk import Desk
from screens.prompting import all_mapped, next_change_s
from screens.senses.alarms import Reminder
from screens.senses.crier import Crier, Prompt
from screens.words import say

# A device takes 500 alarms of one app (Android's own limit, from memory); setting each takes a moment, and the app must
# have let go soon after it left the front. Own figures: calls as in the app, then one reminder every few minutes.
CALLS_MOST = 60
THEN_EVERY_S, THEN_MOST = 300, 24
# The first call of what becomes due later comes in any case, this far ahead and this many.
FIRSTS_WITHIN_S, FIRSTS_MOST = 86_400, 100
_MARGIN_MS = 1e-6


@dataclass(frozen=True)
class Call:
    """One call to come: how many ms from now, and the prompt as the crier has it."""

    in_ms: int
    prompt: Prompt


def reminders(crier: Crier, desk: Desk, now: Stamp) -> list[Reminder]:
    """Promise a reminder for every call to come, in order of time; the last one says when no more will come."""
    calls = foreseen(crier, desk, now)
    seen: set[tuple[str, str]] = set()
    found = []
    for call in calls:
        prompt = call.prompt
        first = (prompt.key, prompt.level) not in seen
        seen.add((prompt.key, prompt.level))
        words = prompt.spoken
        if call is calls[-1] and prompt.level != "soon":
            words = say("alarms.last", what=words)
        found.append(Reminder(call.in_ms, prompt.key, prompt.level, prompt.words, words, first))
    return found


def foreseen(crier: Crier, desk: Desk, now: Stamp) -> list[Call]:
    """Promise the calls to come: as in the app, then thinned out, and the first of each that becomes due later."""
    lanes = desk.lanes()

    def prompts(stamp: Stamp) -> list[Prompt]:
        return all_mapped(desk.prompts(stamp), desk, lanes, stamp)

    found, at_ms = _as_in_the_app(crier.ahead(), prompts, lambda stamp: next_change_s(desk.unit, stamp), now)
    if at_ms is not None:
        called = {call.prompt.key for call in found}
        waiting = [prompt for prompt in prompts(_after(now, at_ms)) if prompt.key not in called]
        found += [Call(at_ms + 1000 * place, prompt) for place, prompt in enumerate(waiting, 1)]
        found += _later(desk, prompts, now, at_ms)
    return sorted(found, key=lambda call: call.in_ms)


def _as_in_the_app(
    crier: Crier, prompts: Callable[[Stamp], list[Prompt]], change_s: Callable[[Stamp], float | None], now: Stamp
) -> tuple[list[Call], int | None]:
    """Give the calls, and the time up to which they are all of them; None where nothing more will come."""
    found: list[Call] = []
    at_ms = 0
    while True:
        stamp = _after(now, at_ms)
        called = crier.tick(prompts(stamp), stamp.longest_ms / 1000)
        if called is not None:
            found.append(Call(at_ms, called))
        if len(found) >= CALLS_MOST:
            return found, at_ms
        next_s, change = crier.next_at_s(), change_s(stamp)
        coming = [] if next_s is None else [next_s * 1000 - now.longest_ms]
        if change is not None:
            coming.append(at_ms + change * 1000)
        if not coming:
            return found, None
        # Whole ms, never before the moment itself: a call that came early would be a wrong one.
        at_ms = max(at_ms + 1, ceil(min(coming) - _MARGIN_MS))


def _later(desk: Desk, prompts: Callable[[Stamp], list[Prompt]], now: Stamp, from_ms: int) -> Iterator[Call]:
    for number in range(1, THEN_MOST + 1):
        at_ms = from_ms + number * THEN_EVERY_S * 1000
        standing = [prompt for prompt in prompts(_after(now, at_ms)) if prompt.level != "soon"]
        if standing:
            yield Call(at_ms, standing[0])
    since = _after(now, from_ms)
    lanes = desk.lanes()
    firsts = 0
    for call in calls_between(desk.unit, since, _after(since, FIRSTS_WITHIN_S * 1000)):
        starts = call.prompt.over_s == 0
        if starts and firsts < FIRSTS_MOST:
            firsts += 1
            at_ms = from_ms + ceil(call.after_s * 1000 - _MARGIN_MS)
            yield Call(at_ms, all_mapped([call.prompt], desk, lanes, _after(now, at_ms))[0])


def _after(now: Stamp, ms: int) -> Stamp:
    return Stamp(now.proven_ms + ms, now.longest_ms + ms, now.wall_ms + ms)
