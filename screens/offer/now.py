"""Which offer fits the state a scope is in; one maker per state, so that none can be forgotten."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from protocols.clock import Stamp
from protocols.lane import Lane
from protocols.model import Move
from protocols.shelf import Shelf
from protocols.states import State
from protocols.unit import Unit
from screens.offer import baths, hands, offered, soaks
from screens.offer.model import Choice, Offer, Scene, Typed
from screens.words import say

_MAKERS: dict[State, Callable[[Scene], Offer]] = {
    State.LOOK: hands.look,
    State.PASS: hands.brush_pass,
    State.COUNT: hands.count,
    State.RINSE: hands.rinse,
    State.READING: hands.reading,
    State.OUT: soaks.out,
    State.IN: soaks.lying,
    State.AIR_OFF: soaks.air_off,
    State.AIR_ON: soaks.air_on,
    State.RUN_OFF: soaks.run_off,
    State.RUN_ON: soaks.run_on,
    State.WAITING: soaks.waiting,
    State.OFFERED: offered.offered,
}


def offer_for(unit: Unit, shelf: Shelf, now: Stamp, lane: Lane, picked: Mapping[str, str] | None = None) -> Offer:
    """Promise what a page offers for one scope: its step, and each command that fits as one tap."""
    return _MAKERS[lane.state](Scene(unit, shelf, now, lane, picked or {}))


def bath_refused(unit: Unit, shelf: Shelf, now: Stamp, lane: Lane, label: str) -> str:
    """Promise why the scope may not lie in the bath of that label at its step, in words; "" when it may."""
    return baths.why_not(Scene(unit, shelf, now, lane), unit.baths[label])


# Preset reasons: one tap instead of typing with wet gloves. Another may be typed.
_EARLY = ("wrong.reason.slipped", "wrong.reason.spill", "wrong.reason.needed")


def wrongs_for(unit: Unit, lane: Lane) -> tuple[list[Choice], list[Typed]]:
    """Promise what can be said under "Something is wrong", each with its confirmation."""
    tag, step = lane.scope, lane.step
    found: list[Choice] = []

    def add(key: str, do: str, lead: bool = False, **values: Any) -> None:
        sure = say(f"wrong.{key}.sure", tag=tag)
        found.append(Choice(say(f"wrong.{key}"), do, tag, values, look="plain", confirm=sure, lead=lead))

    if lane.state is State.IN:
        for reason in _EARLY:
            words = say(reason)
            found.append(Choice(say("wrong.early", why=words), "lift", tag, {"reason": words}, look="plain",
                                confirm=say("wrong.early.sure", tag=tag)))  # fmt: skip
    if lane.state in (State.IN, State.AIR_ON, State.RUN_ON):
        add("interrupt", "interrupt", reason=say("wrong.interrupt"))
    if lane.state is State.LOOK:
        for outcome in step.outcomes:
            if outcome.move is Move.LEAK:
                add("leak", "look", outcome=outcome.word)
    if lane.state is not State.LOOK or all(o.move is not Move.LEAK for o in step.outcomes):
        add("leak_later", "note", what="leak", text=say("wrong.leak_later"))
    add("damage", "note", what="damage", text=say("wrong.damage"))
    add("spill", "note", what="spill", text=say("wrong.spill"))
    if step.optional and lane.state is not State.WAITING:
        found.append(Choice(say("wrong.skip"), "skip", tag, {"reason": say("wrong.skip")}, look="plain",
                            confirm=say("wrong.skip.sure", tag=tag)))  # fmt: skip
    other = "machine" if "soak" in lane.cycle.flags else "soak"
    if not lane.cycle.disinfected and any(s.when == other for s in lane.protocol.steps):
        add(f"choose_{other}", "choose", by=other)
    if "leak" in lane.cycle.flags:
        add("correct_leak", "correct", lead=True, what="leak", reason=say("wrong.correct_leak"))
    add("out", "out-of-service", reason=say("wrong.out"), owner=_lead_of(unit))
    add("void", "void", lead=True, reason=say("wrong.void"))
    typed = [Typed(say("wrong.note"), "text", "text", "note", tag, {"what": "other"})]
    return found, typed


def _lead_of(unit: Unit) -> str:
    """Who answers for a scope out of service unless somebody else is named: the unit's first lead."""
    return next((p.name for p in unit.people.values() if unit.lead(p.id)), say("wrong.lead"))
