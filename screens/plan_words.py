"""A plan in words: why a scope comes next, what will be late, what starting a scope would do. Pure, no window."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import TYPE_CHECKING

from protocols.clock import Stamp, time_of_day
from protocols.lane import Lane
from protocols.prompts import Level
from screens.moments import span_words
from screens.widgets.timeline_shape import HandsNeeded
from screens.words import say

if TYPE_CHECKING:
    from protocols.calibration import Calibration
    from protocols.forecast import Change, Ready
    from protocols.hands import Slot
    from screens.planning import Planned

# A limit this near is the reason for coming first: own figure.
NEAR_S = 900
# Later than this by the plan is worth a word: own figure, below it any plan is only a plan.
LATE_S = 30
SPAN_S = 1800.0


def at_words(now: Stamp, in_s: float, zone: str) -> str:
    """Promise the time of day in so many seconds, to the minute."""
    return time_of_day(now.wall_ms + round(in_s * 1000), zone)


def minutes(seconds: float) -> str:
    """Promise a length in whole minutes, at least one, rounded up: what is late is never made to look better."""
    return span_words(max(1, ceil(seconds / 60)) * 60)


def first_by_plan(lanes: Sequence[Lane], planned: Planned | None, now: Stamp) -> tuple[Lane | None, Slot | None]:
    """Promise the lane to act on by the plan with its slot; (None, None) where the plan does not say.

    What is past its limit is not asked of the plan: that comes first in any case.
    """
    if planned is None:
        return None, None
    by_tag = {lane.scope: lane for lane in lanes}
    for _, slot in planned.slots(now):
        lane = by_tag.get(slot.scope)
        if lane is not None and lane.left_s <= 0:
            return lane, slot
    return None, None


def why(planned: Planned, slot: Slot, now: Stamp, zone: str) -> str:
    """Promise in a few words why this scope comes next."""
    age_s = planned.age_s(now)
    if slot.latest_s is not None and slot.latest_s - age_s < NEAR_S:
        return say("plan.why.limit", time=at_words(now, slot.latest_s + slot.change_s - age_s, zone))
    after = [s for s in planned.plan.slots if s.scope == slot.scope and s.number > slot.number]
    if not after:
        return say("plan.why.done")
    limited = [
        s for s in planned.plan.slots if s.latest_s is not None and s.scope != slot.scope and s.start_s > slot.start_s
    ]
    if limited and limited[0].start_s - slot.start_s - slot.length_s < LATE_S:
        return say("plan.why.before", tag=limited[0].scope, time=at_words(now, limited[0].start_s - age_s, zone))
    if slot.after_s > 0:
        return say("plan.why.soak")
    if slot.clean and not slot.change_s:
        return say("plan.why.clean")
    return say("plan.why.order")


def needs_by_plan(planned: Planned, lanes: Sequence[Lane], now: Stamp) -> list[HandsNeeded]:
    """Promise when hands are needed by the plan, for the strip of the next half hour."""
    over = {lane.scope: lane for lane in lanes if lane.over_s > 0}
    ready = {lane.scope for lane in lanes if lane.level is not None and lane.level >= Level.READY}
    found: list[HandsNeeded] = []
    first: set[str] = set()
    for start_s, slot in planned.slots(now):
        if start_s >= SPAN_S:
            continue
        level = "coming"
        if slot.scope not in first:
            level = "over" if slot.scope in over else "ready" if slot.scope in ready else "coming"
        first.add(slot.scope)
        found.append(HandsNeeded(slot.scope, max(0.0, start_s), float(slot.length_s), level))  # type: ignore[arg-type]
    return found


def foreseen(planned: Planned) -> list[Slot]:
    """Promise the slots that begin past a limit by the plan, first come first."""
    return [slot for slot in planned.plan.slots if slot.late_s >= LATE_S]


def clash_by_plan(planned: Planned, lanes: Sequence[Lane], now: Stamp, zone: str) -> str:
    """Promise the clash ahead in words: who will be past a limit though served as soon as can be; "" for none.

    A scope past its limit already is not foreseen, it is there.
    """
    over = {lane.scope for lane in lanes if lane.over_s > 0}
    age_s = planned.age_s(now)
    ahead = [s for s in foreseen(planned) if s.scope not in over and s.start_s - age_s < SPAN_S]
    if not ahead:
        return ""
    slot = ahead[0]
    at = at_words(now, slot.start_s + slot.change_s - age_s, zone)
    scopes = {one.scope for one in ahead}
    if len(scopes) > 1:
        return say("plan.lates", count=len(scopes), tag=slot.scope, at=at)
    return say("plan.late", tag=slot.scope, time=minutes(slot.late_s), at=at)


def advice_words(planned: Planned, now: Stamp, zone: str) -> str:
    """Promise the warning for the scope that the advice is on, "" where starting it now hurts nobody."""
    advice = planned.advice
    if advice is None or not advice.hurts:
        return ""
    others = ", ".join(say("plan.other", tag=tag, time=minutes(more)) for tag, more in advice.hurts[:3])
    warning = say("plan.starting", tag=advice.scope, others=others)
    when = say("plan.no_start")
    age_s = planned.age_s(now)
    if advice.safe_in_s is not None:
        wait_s = max(0.0, advice.safe_in_s - age_s)
        when = say("plan.start_in", time=minutes(wait_s), at=at_words(now, wait_s, zone))
    words = say("plan.advice", warning=warning, when=when)
    if advice.must_in_s is not None and (advice.safe_in_s is None or advice.must_in_s < advice.safe_in_s):
        words = say(
            "plan.advice", warning=words, when=say("plan.must", at=at_words(now, advice.must_in_s - age_s, zone))
        )
    return say("plan.cut_short", words=words) if planned.cut_short else words


def ready_words(planned: Planned, ready: Ready, now: Stamp, zone: str, wanted_wall_ms: int | None) -> list[str]:
    """Promise the lines on when a scope is ready: the middle, both ranges, and what a wanted time leaves."""
    age_s = planned.age_s(now)

    def at(second: float) -> str:
        return at_words(now, max(0.0, second - age_s), zone)

    lines = [say("ready.line", tag=ready.scope, middle=at(ready.middle_s), a=at(ready.half_s[0]), b=at(ready.half_s[1]),
                 c=at(ready.most_s[0]), d=at(ready.most_s[1]))]  # fmt: skip
    if wanted_wall_ms is None or ready.slack_s is None:
        return lines
    wanted = time_of_day(wanted_wall_ms, zone)
    if ready.slack_s >= 0:
        return [*lines, say("ready.slack", at=wanted, time=span_words(ready.slack_s))]
    lines.append(say("ready.short", at=wanted, time=minutes(-ready.slack_s)))
    helps = planned.missed.get(ready.scope)
    if helps is not None:
        lines.append(say("ready.helps", what=more_words(helps), time=span_words(helps.sooner_s)))
    elif planned.asked.variants:
        lines.append(say("ready.no_help"))
    return lines


def held_words(calibration: Calibration) -> str:
    """Promise how many of the last forecasts came within their ranges, in words."""
    count = len(calibration.results)
    if not count:
        return say("ready.none_held")
    half, most = calibration.halves, calibration.mosts
    shares = {"half_pct": round(100 * half / count), "most_pct": round(100 * most / count)}
    return say("ready.held", count=count, half=half, most=most, **shares)


def more_words(change: Change) -> str:
    """Promise what would be changed, in words."""
    return (
        say(f"plan.more.{change.what.replace(' ', '_')}", tag=change.scope)
        if change.what == "later"
        else say(f"plan.more.{change.what.replace(' ', '_')}")
    )


def help_words(planned: Planned) -> str:
    """Promise the one change that helps most and how, "" where none does."""
    if not planned.changes:
        return ""
    best = planned.changes[0]
    how = (
        say("plan.less_late", time=minutes(best.late_less_s))
        if best.late_less_s >= LATE_S
        else say("plan.sooner", time=span_words(best.sooner_s))
    )
    return say("plan.helps", what=more_words(best), how=how)


def load_bars(planned: Planned, now: Stamp, span_s: float, bin_s: float) -> tuple[float, ...]:
    """Promise the share of hands that the plan takes in each bin from now on, in pairs of hands."""
    bins = [0.0] * round(span_s / bin_s)
    for start_s, slot in planned.slots(now):
        end_s = start_s + slot.length_s
        for number in range(max(0, int(start_s // bin_s)), len(bins)):
            low = number * bin_s
            if low >= end_s:
                break
            bins[number] += max(0.0, min(end_s, low + bin_s) - max(start_s, low))
    return tuple(b / bin_s for b in bins)
