"""Offers for hands-on steps: looks, brush passes, counts, rinses, readings."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from protocols.model import WATER_GRADES, Move, Step
from protocols.states import State
from screens.offer import baths
from screens.offer.model import Choice, Offer, Pick, Scene, Typed
from screens.words import has, say, shipped

_ALCOHOL_PCT = (70, 80, 90)
# Counts that push air through channels.
_BY_AIR = ("flush-air", "final-purge")


def base(scene: Scene) -> Offer:
    """Promise the offer's sentence, cautions and stated confirmations; makers add the choices."""
    step = scene.lane.step
    cautions = tuple(shipped(caution) for caution in step.cautions)
    return Offer(shipped(step.says), cautions=cautions, states=tuple(say(f"need.{name}") for name in step.needs))


def stated(step: Step) -> dict[str, Any]:
    """Promise the step's confirmations as given by the tap: the page shows each beside the button."""
    return dict.fromkeys(step.needs, True)


def word(outcome: str) -> str:
    """Promise an outcome's word as a button shows it: from the catalogue, else as the protocol writes it."""
    key = f"outcome.{outcome}"
    return say(key) if has(key) else outcome[:1].upper() + outcome[1:]


def look(scene: Scene) -> Offer:
    """A look: its outcomes as equal buttons; where the scope goes into detergent, temperatures that start it."""
    step, tag = scene.lane.step, scene.tag
    offer = base(scene)
    good = next((o for o in step.outcomes if o.move is Move.NEXT), step.outcomes[0])
    if step.bath:
        return baths.with_bath(scene, offer, "look", {"outcome": good.word, **stated(step)})
    if "place" in step.records or "owner" in step.records:
        return _recorded(scene, offer, "look", {"outcome": good.word, **stated(step)})
    choices = []
    for outcome in step.outcomes:
        serious = outcome.move in (Move.LEAK, Move.OUT)
        values = {"outcome": outcome.word, **({} if serious else stated(step))}
        look_of = "act" if outcome is good else "plain"
        sure = say("sure.leak" if outcome.move is Move.LEAK else "sure.out", tag=tag) if serious else ""
        choices.append(Choice(word(outcome.word), "look", tag, values, look=look_of, confirm=sure))
    return replace(offer, choices=tuple(choices))


def _recorded(scene: Scene, offer: Offer, do: str, values: dict[str, Any]) -> Offer:
    """A step that records a place or an owner: the ones known as buttons, another typed."""
    step, tag = scene.lane.step, scene.tag
    name = next(n for n in ("place", "owner") if n in step.records)
    known = [scene.unit.last_given.get(name)] if name == "place" else []
    if name == "owner":
        known = [p.name for p in scene.unit.people.values() if scene.unit.lead(p.id)]
    choices = [
        Choice(say(f"given.{name}", value=value), do, tag, {**values, name: value})
        for value in known
        if value is not None
    ]
    typed = Typed(say(f"type.{name}"), name, "text", do, tag, values)
    return replace(offer, choices=tuple(choices), typed=(typed,))


def brush_pass(scene: Scene) -> Offer:
    """A brush pass: debris seen or none seen, two equal buttons; passes are counted, none is enough."""
    tag, step, passes = scene.tag, scene.lane.step, scene.lane.cycle.passes
    detail = say("pass.so_far", count=passes) if passes else say("pass.until")
    return replace(
        base(scene),
        detail=detail,
        choices=(
            Choice(say("pass.seen"), "pass", tag, {"debris": "seen"}, look="plain"),
            Choice(say("pass.none"), "pass", tag, {"debris": "none", **stated(step)}, look="plain"),
        ),
    )


def air_limit(scene: Scene) -> str:
    """Promise the pressure that the unit's chosen limit set allows, in words; "" where it chose none."""
    chosen = scene.unit.limits.get("air")
    below = chosen.air_psi_below if chosen is not None else None
    return say("air.below", psi=f"{below:g}") if below is not None else ""


def count(scene: Scene) -> Offer:
    """A flush, rinse or purge: one button that says what was done, with the pips of the count."""
    lane, step, tag = scene.lane, scene.lane.step, scene.tag
    of = lane.times
    each = say("count.volume", ml=f"{step.volume_ml.value:g}") if step.volume_ml else ""
    limit = air_limit(scene) if step.id in _BY_AIR else ""
    offer = replace(base(scene), detail=limit, done=lane.cycle.done, of=of, each=each)
    wait_s = lane.left_s if step.each_s_min is not None else 0
    values = stated(step)
    verb = _counted(step)
    under = say("count.under", done=lane.cycle.done, of=of)
    if "alcohol_pct" in step.records:
        tiles = tuple(
            Choice(say("given.alcohol_pct", value=pct), "count", tag, {**values, "alcohol_pct": pct}, under=under)
            for pct in _ALCOHOL_PCT
        )
        return replace(offer, choices=tiles)
    if "water" in step.records:
        return _with_water(scene, offer, Choice(verb, "count", tag, values, under=under, ready_in_s=wait_s))
    return replace(offer, choices=(Choice(verb, "count", tag, values, under=under, ready_in_s=wait_s),))


def _counted(step: Step) -> str:
    """Promise what the button of a count says was done: by the step's id, else by whether a volume goes through."""
    key = f"count.{step.id}"
    if has(key):
        return say(key)
    rinses = step.stage in ("rinse", "final rinse") and step.volume_ml is None
    return say("count.rinsed" if rinses else "count.flushed")


def _with_water(scene: Scene, offer: Offer, choice: Choice) -> Offer:
    """The grade that was used last is offered; the picks change it."""
    grade = scene.picked.get("water") or scene.unit.last_given.get("water") or WATER_GRADES[-2]
    picks = tuple(Pick("water", g, say(f"water.{g}"), g == grade) for g in WATER_GRADES)
    filled = replace(choice, values={**choice.values, "water": grade})
    return replace(offer, picks=picks, choices=(filled,))


def rinse(scene: Scene) -> Offer:
    """A timed rinse that has not begun."""
    started = Choice(say("rinse.started"), "start", scene.tag)
    return replace(base(scene), of=scene.lane.times, states=(), choices=(started,))


def reading(scene: Scene) -> Offer:
    """A verification reading: which method on which meter, the number typed; or left out where it is optional."""
    step, tag = scene.lane.step, scene.tag
    keys = [f"{x.method}|{x.meter}" for x in step.limits]
    last = f"{scene.unit.last_given.get('method')}|{scene.unit.last_given.get('meter')}"
    chosen = scene.picked.get("limit") or (last if last in keys else keys[0])
    picks = tuple(
        Pick("limit", key, say("reading.pick", method=shipped(x.method), meter=shipped(x.meter)), key == chosen)
        for key, x in zip(keys, step.limits, strict=True)
    )
    limit = step.limits[keys.index(chosen)]
    values = {"method": limit.method, "meter": limit.meter}
    typed = Typed(say("reading.type", unit=limit.unit), "value", "number", "read", tag, values, limit.unit)
    choices = ()
    if step.optional:
        reason = say("reading.not_today")
        choices = (Choice(reason, "skip", tag, {"reason": reason}, look="plain"),)
    return replace(base(scene), picks=picks, typed=(typed,), choices=choices)


HANDS_ON = frozenset(
    {State.LOOK, State.PASS, State.COUNT, State.RINSE, State.READING, State.OUT, State.AIR_OFF, State.RUN_OFF}
)
