"""Offers for what runs: soaks, drying air, machine runs, and a scope that waits for a lead."""

from __future__ import annotations

from dataclasses import replace

from protocols.clock import clock_text
from screens.offer import baths, strips
from screens.offer.hands import air_limit, base, stated
from screens.offer.model import Choice, Offer, Scene, Typed
from screens.shown import in_words
from screens.words import say


def out(scene: Scene) -> Offer:
    """Before a soak: for a disinfectant this scope's strip test first, then the temperature that starts contact."""
    step = scene.lane.step
    offer = base(scene)
    if step.bath == "disinfectant":
        _, picks, chosen = baths.bath_picks(scene, "disinfectant")
        if chosen is not None and not strips.covered(scene, chosen.label):
            return strips.strip(scene, offer, chosen.label, picks)
    return baths.with_bath(scene, offer, "start", stated(step))


def lying(scene: Scene) -> Offer:
    """In a soak: lift out, quiet until the contact time is proven; a long soak asks for the temperature."""
    lane, tag = scene.lane, scene.tag
    soak = lane.cycle.soak
    offer = replace(base(scene), states=(), title=say("soak.lying", bath=soak.label if soak else ""))
    if soak is not None and soak.recheck and lane.left_s <= 0:
        bath = scene.unit.bath(soak.bath)
        tiles = baths.temperatures(bath, scene) if bath else [baths.LOWEST_C]
        choices = tuple(Choice(say("lift.at", value=t), "lift", tag, {"temp_c": t}, look="ink") for t in tiles)
        typed = (Typed(say("type.temp_c"), "temp_c", "number", "lift", tag, {}, "°C"),)
        return replace(offer, detail=say("lift.read"), choices=choices, typed=typed)
    look = "ink" if lane.left_s <= 0 else "plain"
    if lane.over_s > 0:
        look = "over"
    under = say("lift.under", passed=clock_text(lane.passed_s), needed=clock_text(lane.needed_s))
    return replace(
        offer, choices=(Choice(say("lift.out"), "lift", tag, under=under, look=look, ready_in_s=lane.left_s),)
    )


def air_off(scene: Scene) -> Offer:
    """Before drying: turn the air on; its pressure is typed, where the unit chose a limit it must be."""
    tag, values = scene.tag, stated(scene.lane.step)
    limit = air_limit(scene)
    typed = Typed(say("air.type_psi"), "air_psi", "number", "start", tag, values, "psi")
    if limit:
        return replace(base(scene), detail=limit, typed=(typed,))
    other = replace(typed, words=say("air.on_psi"))
    return replace(base(scene), choices=(Choice(say("air.on"), "start", tag, values),), typed=(other,))


def air_on(scene: Scene) -> Offer:
    """While the air runs: dry or still wet, quiet until the minimum is proven."""
    lane, tag = scene.lane, scene.tag
    wait_s = lane.left_s
    choices = (
        Choice(say("air.wet"), "check", tag, {"dry": False}, look="plain", ready_in_s=wait_s),
        Choice(say("air.dry"), "check", tag, {"dry": True}, look="plain", ready_in_s=wait_s),
    )
    detail = "; ".join(part for part in (say("air.detail", passed=clock_text(lane.passed_s)), air_limit(scene)) if part)
    return replace(base(scene), states=(), choices=choices, detail=detail)


def run_off(scene: Scene) -> Offer:
    """Before a machine run: its machine as last time, its cycle number typed."""
    step, tag = scene.lane.step, scene.tag
    machine = scene.picked.get("machine") or scene.unit.last_given.get("machine")
    values = stated(step)
    if machine is None:
        typed = Typed(say("run.type_machine"), "machine", "pick", "start", tag, values)
        return replace(base(scene), typed=(typed,))
    words = say("run.type_number", machine=machine)
    typed_run = Typed(words, "run", "text", "start", tag, {**values, "machine": machine})
    other = Typed(say("run.type_machine"), "machine", "pick", "start", tag, values)
    return replace(base(scene), typed=(typed_run, other))


def run_on(scene: Scene) -> Offer:
    """In a machine run: what the machine says at its end."""
    lane, tag = scene.lane, scene.tag
    choices = (
        Choice(say("run.complete"), "run-end", tag, {"result": "complete"}, ready_in_s=lane.left_s),
        Choice(say("run.failed"), "run-end", tag, {"result": "failed"}, look="plain", confirm=say("run.failed.sure")),
        Choice(say("run.interrupted"), "run-end", tag, {"result": "interrupted"}, look="plain",
               confirm=say("run.failed.sure")),
    )  # fmt: skip
    return replace(base(scene), states=(), choices=choices)


def waiting(scene: Scene) -> Offer:
    """Waiting for a lead: why, and the lead's choices."""
    lane, tag = scene.lane, scene.tag
    hold = lane.cycle.hold
    why = in_words(hold.why) if hold else ""
    reason = say("decide.reason")

    def choice(decision: str) -> Choice:
        return Choice(say(f"decide.{decision}"), "decide", tag, {"decision": decision, "reason": reason}, look="plain",
                      confirm=say(f"decide.{decision}.sure", tag=tag), lead=True)  # fmt: skip

    if hold is not None and hold.kind == "no maximum":
        typed = Typed(say("decide.type_maximum"), "soak_s_max", "minutes", "decide", tag,
                      {"decision": "continue", "reason": reason}, "min")  # fmt: skip
        return Offer(say("decide.title"), why, typed=(typed,), choices=(choice("out-of-service"),))
    ways = ["clean-again", "disinfect-again", "out-of-service"]
    if hold is None or hold.kind != "unproven lift":
        ways.insert(0, "continue")
    return Offer(say("decide.title"), why, choices=tuple(choice(w) for w in ways))
