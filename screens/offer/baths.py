"""Choosing a bath and reading its temperature in one tap: only usable baths are offered, the others say why not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from protocols import bath as rules
from protocols.claims import claim_of
from protocols.unit import Bath, Unit
from screens.offer.model import Choice, Offer, Pick, Scene, Typed
from screens.shown import refused
from screens.telling import bath_title
from screens.words import say, shipped

# How many temperatures fit as tiles a thumb can hit; others are typed.
TILES = 5
# Temperatures offered when neither the claim nor the step gives a lowest one, °C: a warm hand bath.
LOWEST_C = 20


def bath_picks(scene: Scene, kind: str) -> tuple[list[Bath], tuple[Pick, ...], Bath | None]:
    """Promise the usable baths of a kind, every bath of it as a pick with its reason, and the one chosen."""
    unit, lane = scene.unit, scene.lane
    all_of_kind = [b for b in unit.baths.values() if b.kind == kind and not b.closed]
    why = {b.label: why_not(scene, b) for b in all_of_kind}
    usable = [b for b in all_of_kind if not why[b.label]]
    lying = [c.soak.label for c in unit.cycles.values() if c.soak]
    wanted = scene.picked.get("bath", "")
    tested = [b for b in usable if any(t.cycle == lane.cycle.id and not t.used for t in b.tests.values())]
    mine = [b for b in usable if b.cycle == lane.cycle.id]
    order = sorted(usable, key=lambda b: (b not in tested, b not in mine, lying.count(b.label), b.uses, b.label))
    chosen = next((b for b in usable if b.label == wanted), order[0] if order else None)
    picks = tuple(
        Pick("bath", b.label, say("bath.pick", label=b.label, title=bath_title(b.title)), b is chosen, why[b.label])
        for b in sorted(all_of_kind, key=lambda b: (bool(why[b.label]), b.label))
    )
    return usable, picks, chosen


def why_not(scene: Scene, bath: Bath) -> str:
    """Promise why the scope may not lie in this bath at its step now, with what to do; "" when it may."""
    lane = scene.lane
    wrong = rules.unusable(bath, scene.unit, scene.now) or rules.unsuitable(
        bath, scene.unit, lane.cycle, lane.step, lane.protocol, scene.shelf.claims
    )
    if wrong is None:
        return ""
    return ": ".join(refused(wrong))


def cautions_of(scene: Scene, bath: Bath) -> tuple[str, ...]:
    """Promise what the claim of a bath says of gloves, of exposure and of whom it is never for."""
    claim = claim_of(scene.unit, scene.shelf, bath.claim) if bath.claim else None
    if claim is None:
        return ()
    return tuple(shipped(text) for text in (claim.gloves, *claim.never_for, *claim.exposure) if text)


def temperatures(bath: Bath, scene: Scene) -> list[int]:
    """Promise the whole degrees to offer: from the lowest allowed upward, within the narrower of claim and step."""
    step = scene.lane.step
    lows = [x for x in (bath.temp_c_min, step.temp_c_min.value if step.temp_c_min else None) if x is not None]
    highs = [x for x in (bath.temp_c_max, step.temp_c_max.value if step.temp_c_max else None) if x is not None]
    low = int(-(-max(lows) // 1)) if lows else LOWEST_C
    high = int(min(highs)) if highs else low + TILES - 1
    stride = max(1, (high - low) // (TILES - 1))
    return [low + i * stride for i in range(TILES) if low + i * stride <= high]


def with_bath(scene: Scene, offer: Offer, do: str, values: dict[str, Any]) -> Offer:
    """Promise the offer with bath picks and temperatures that give the command; or a fresh bath to pour first."""
    _, picks, chosen = bath_picks(scene, scene.lane.step.bath)
    if chosen is None:
        detail = say("bath.none_usable") if picks else say("bath.none_poured")
        return replace(offer, detail=detail, picks=picks, states=(), **_pour(scene))
    filled = {**values, "bath": chosen.label}
    choices = tuple(
        Choice(say("given.temp_c", value=t), do, scene.tag, {**filled, "temp_c": t})
        for t in temperatures(chosen, scene)
    )
    typed = Typed(say("type.temp_c"), "temp_c", "number", do, scene.tag, filled, "°C")
    detail = say("bath.read_temperature", label=chosen.label)
    told = (*offer.cautions, *cautions_of(scene, chosen))
    shown = picks if len(picks) > 1 else ()
    return replace(offer, detail=detail, cautions=told, picks=shown, choices=choices, typed=(typed,))


def _pour(scene: Scene) -> dict[str, Any]:
    """Fresh solution like the last one of its kind, as one tap; none without a bath to copy (Setup pours the first)."""
    kind = scene.lane.step.bath
    last = [b for b in scene.unit.baths.values() if b.kind == kind]
    if not last:
        return {"choices": ()}
    newest = max(last, key=lambda b: b.poured.proven_ms)
    values: dict[str, Any] = {"kind": kind, "lot": newest.lot, "expires": newest.expires, "opened": newest.opened}
    if kind == "disinfectant":
        # An activated or diluted solution is a new one each time: its day can't be copied.
        if newest.needs_activation:
            return {"choices": ()}
        values["claim"] = newest.claim
    else:
        values["title"] = newest.title
    label = free_label(scene.unit, kind)
    words = say("bath.pour", title=bath_title(newest.title), label=label)
    return {"choices": (Choice(words, "pour-bath", label, values, under=say("bath.pour_under", lot=newest.lot)),)}


def free_label(unit: Unit, kind: str) -> str:
    """Promise a label that no open bath has: a letter for the kind and the lowest free number."""
    letter = "H" if kind == "disinfectant" else "W"
    taken = {bath.label for bath in unit.baths.values() if not bath.closed}
    return next(label for n in range(1, len(taken) + 2) if (label := f"{letter}{n}") not in taken)
