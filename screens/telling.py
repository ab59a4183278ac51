"""A lane in words: what a scope needs, since or until when. Every time on the Bench and on Steps is worded here, once.

Pure: figures come in a Lane, words go out. No sign stands for a word: "ready 0:12 ago", "OVER LIMIT 6:05".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

from protocols.clock import Stamp, clock_text, longest_s, time_of_day
from protocols.containers import DETERGENT
from protocols.lane import Lane
from protocols.model import Step
from protocols.prompts import Level
from protocols.states import State
from screens.shown import in_words, step_words
from screens.widgets.timeline_shape import HandsNeeded
from screens.words import say, shipped

# Two needs this close together clash: one pair of hands can't lift two scopes at once. Own figure.
CLASH_S = 60
# How long a need is drawn on the strip: a lift or a look takes about a minute (common practice, no source).
NEED_S = 60


@dataclass(frozen=True, slots=True)
class Telling:
    """What a lane shows: its title, its large figure, a line of detail, how urgent (calm, ready, over), its mark."""

    title: str
    figure: str
    detail: str
    level: str
    mark: str
    liquid: str = ""
    coil: str = ""


def tell(lane: Lane, now: Stamp, zone: str) -> Telling:
    """Promise the words for a lane as of now, with times of day in the unit's zone."""
    over = lane.over_s > 0
    liquid = _liquid(lane)
    level = "over" if over else "ready" if lane.level is not None and lane.level >= Level.READY else "calm"
    coil = "over" if over else "ready" if lane.left_s <= 0 else "filling"
    return Telling(_title(lane), _figure(lane, now), _detail(lane, now, zone), level, mark(lane), liquid,
                   coil if liquid else "")  # fmt: skip


def mark(lane: Lane) -> str:
    """Promise the mark of dirty and clean; what is in a cycle is never released."""
    return "disinfected" if lane.cycle.disinfected else "not_disinfected"


def step_name(step: Step) -> str:
    """Promise a short name of a step, for lists: from the catalogue, else from its id."""
    return step_words(step.id)


def scope_name(lane: Lane) -> str:
    """Promise a scope as it is said: its family and the number in its tag, like "broncho 2"."""
    number = "".join(char for char in lane.scope if char.isdigit())
    return f"{shipped(lane.protocol.spoken)} {number}".strip()


def strip_words(lane: Lane) -> str:
    """Promise when the strip that was dipped for a scope is read, in words; "" without one."""
    dip = lane.cycle.dip
    if dip is None:
        return ""
    if lane.strip_left_s is not None and lane.strip_left_s < 0:
        return say("lane.strip_void")
    return window_words(dip.min_s, dip.max_s)


def window_words(first_s: float | None, last_s: float | None) -> str:
    """Promise the window for reading a strip in words, in s from its dip; "" without one."""
    if last_s is None:
        return "" if first_s is None else say("lane.strip_from", first=f"{first_s:g}")
    if first_s is None:
        return say("lane.strip_by", last=f"{last_s:g}")
    return say("lane.strip_window", first=f"{first_s:g}", last=f"{last_s:g}")


def bath_title(title: str) -> str:
    """Promise what is in a bath, as its label calls it; a detergent that was not named, in the language in use."""
    return say("bath.detergent") if title == DETERGENT else shipped(title)


def left_text(seconds: float) -> str:
    """Promise a waiting time, rounded up to a whole second so that nobody comes a moment early."""
    return clock_text(ceil(seconds))


def _liquid(lane: Lane) -> str:
    if lane.kind == "soak":
        return lane.step.bath or "detergent"
    return {"air": "air", "run": "water", "each": "water"}.get(lane.kind, "")


def _title(lane: Lane) -> str:
    step = lane.step
    if lane.cycle.offer is not None:
        return say("lane.offered", device=lane.cycle.offer.to)
    if lane.state is State.WAITING:
        return say("lane.waits_lead")
    if lane.strip_in_s is not None and lane.cycle.dip is not None and lane.over_s <= 0:
        return say("lane.strip" if lane.strip_in_s > 0 else "lane.strip_read", label=lane.cycle.dip.label)
    if lane.state is State.IN:
        return say("lane.lift", what=say(f"lane.{step.bath}")) if lane.left_s <= 0 else step_name(step)
    if lane.state is State.AIR_ON:
        return say("lane.check_dry") if lane.left_s <= 0 else say("lane.drying")
    if lane.state is State.RUN_ON:
        return say("lane.end_run") if lane.left_s <= 0 else say("lane.run")
    if step.kind == "count" and step.stage in ("rinse", "final rinse") and lane.over_s > 0:
        return say("lane.rinse_now")
    if step.kind == "count" and lane.cycle.done:
        return say("lane.counted", step=step_name(step), done=lane.cycle.done, of=lane.times)
    return step_name(step)


def _figure(lane: Lane, now: Stamp) -> str:
    if lane.over_s > 0:
        return say("lane.over", time=clock_text(lane.over_s))
    if lane.state is State.WAITING:
        return say("lane.waiting")
    if lane.strip_in_s is not None:
        return left_text(lane.strip_in_s) if lane.strip_in_s > 0 else say("lane.ready")
    if lane.kind in ("soak", "air", "run", "each"):
        return left_text(lane.left_s) if lane.left_s > 0 else say("lane.ready")
    return say("lane.waits", time=clock_text(longest_s(lane.cycle.step_since, now)))


def over_words(lane: Lane) -> str:
    """Promise how far past its limit a scope is, as a heading."""
    return say("lane.over_limit", time=clock_text(lane.over_s))


def _at(now: Stamp, in_s: float, zone: str, up: bool = False) -> str:
    """The time of day in so many seconds; rounded up to the next whole minute where coming early would be wrong."""
    moment_ms = now.wall_ms + round(in_s * 1000)
    if up:
        moment_ms = -(-moment_ms // 60_000) * 60_000
    return time_of_day(moment_ms, zone)


def _detail(lane: Lane, now: Stamp, zone: str) -> str:
    if lane.cycle.hold is not None and lane.state is State.WAITING:
        return in_words(lane.cycle.hold.why)
    if lane.over_s > 0:
        return _over_detail(lane, now, zone)
    parts = [words] if (words := strip_words(lane)) else []
    if lane.kind in ("soak", "air", "run", "each"):
        if lane.left_s > 0:
            parts.append(say(f"lane.from.{lane.kind}", time=_at(now, lane.left_s, zone, up=True)))
        else:
            ago = clock_text(lane.passed_s - lane.needed_s)
            of = say(f"lane.passed.{lane.kind}", passed=clock_text(lane.passed_s), needed=clock_text(lane.needed_s))
            parts += [say("lane.ready_ago", ago=ago), of]
    if lane.kind == "start" and lane.limit_in_s is not None:
        parts.append(say("lane.begin_by", time=_at(now, lane.limit_in_s, zone)))
    elif lane.limit_in_s is not None:
        parts.append(say("lane.limit", time=_at(now, lane.limit_in_s, zone)))
    if lane.delay_in_s is not None:
        parts.append(say("lane.clean_by", time=_at(now, lane.delay_in_s, zone)))
    if not parts:
        parts.append(say("steps.place", at=lane.position + 1, of=lane.length))
    return ", ".join(parts)


def _over_detail(lane: Lane, now: Stamp, zone: str) -> str:
    if lane.limit_in_s is not None and lane.limit_in_s < 0:
        key = "lane.was_begin" if lane.kind == "start" else "lane.was_limit"
        return say(key, time=_at(now, lane.limit_in_s, zone))
    return say("lane.was_clean", time=_at(now, lane.delay_in_s or 0, zone))


def since_words(lane: Lane, zone: str) -> str:
    """Promise since when a scope is at its step."""
    return say("lane.since", time=time_of_day(lane.cycle.step_since.wall_ms, zone))


def needs(lanes: Iterable[Lane]) -> list[HandsNeeded]:
    """Promise when hands are needed: what is over or ready now, and each running time at its end."""
    found = []
    for lane in lanes:
        if lane.over_s > 0:
            found.append(HandsNeeded(lane.scope, -lane.over_s, NEED_S, "over"))
        elif lane.strip_in_s is not None and lane.strip_in_s > 0:
            found.append(HandsNeeded(lane.scope, lane.strip_in_s, NEED_S, "coming"))
        elif lane.kind in ("soak", "air", "run", "each") and lane.left_s > 0:
            found.append(HandsNeeded(lane.scope, lane.left_s, NEED_S, "coming"))
        elif lane.level is not None and lane.level >= Level.READY:
            found.append(HandsNeeded(lane.scope, 0.0, NEED_S, "ready"))
    return found


def clash(coming: Sequence[HandsNeeded], now: Stamp, zone: str, span_s: float = 1800.0) -> str:
    """Promise the first clash ahead in words, "" for none: needs that begin within a minute of each other."""
    ahead = sorted((n.start_s, n.tag) for n in coming if n.level == "coming" and n.start_s < span_s)
    for at, (start_s, _) in enumerate(ahead):
        group = [tag for other_s, tag in ahead[at:] if other_s - start_s < CLASH_S]
        if len(group) == 2:
            return say("bench.clash", one=group[0], other=group[1], time=_at(now, start_s, zone))
        if len(group) > 2:
            return say("bench.clashes", count=len(group), time=_at(now, start_s, zone))
    return ""


def failing_words(name: str, why: str) -> str:
    """Promise what the Bench says of a sense that can't do its part, by its name and the id of the reason."""
    if name == "alarms":
        return say("sense.cannot.alarms", why=say(why))
    return say("sense.cannot", sense=say(f"sense.{name}"), why=say(why))
