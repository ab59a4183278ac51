"""Offers for the strip before a soak in disinfectant: dip it, read it when its label says, pass or fail."""

from __future__ import annotations

from dataclasses import replace

from protocols import bath as rules
from protocols.clock import clock_text, longest_s
from protocols.refusals import Refusal
from protocols.stock import Bath, Dip, Strips, strip_kind
from protocols.strips import dip_time_s, reading_window
from screens.offer import baths
from screens.offer.model import Choice, Offer, Pick, Scene, Typed
from screens.telling import window_words
from screens.words import say


def covered(scene: Scene, label: str) -> bool:
    """Promise whether a strip that was read covers this scope's soak in the bath of that label."""
    return not isinstance(rules.strip_for(scene.unit.baths[label], scene.lane.cycle, None), Refusal)


def strip(scene: Scene, offer: Offer, label: str, picks: tuple[Pick, ...]) -> Offer:
    """Promise the offer of this scope's strip in this bath: from the bottle in use, or another that is typed.

    Where bottle or claim has a window for reading, the app counts from the dip, or the seconds are typed with a pass.
    """
    bath = scene.unit.baths[label]
    bottle = _bottle(scene, bath)
    picks = picks if len(picks) > 1 else ()
    cautions = (*offer.cautions, *baths.cautions_of(scene, bath))
    offer = replace(offer, title=say("strip.title", label=label), cautions=cautions, states=(), picks=picks)
    values = {"scope": scene.tag}
    typed = tuple(
        Typed(say(f"strip.new_lot_{result}"), "strip_lot", "pick", "strip-test", label, {**values, "result": result})
        for result in ("pass", "fail")
    )
    if not bottle:
        return replace(offer, detail=say("strip.no_lot"), typed=typed)
    held = scene.unit.strips.get(bottle)
    low_s, high_s = reading_window(bath, held)
    dip = scene.lane.cycle.dip
    if dip is not None and (dip.bath, dip.strips) == (bath.uid, bottle):
        return _dipped(scene, offer, bath, dip)
    values = {**values, "strip_lot": bottle}
    good, bad = _read(label, values)
    detail = "; ".join([say("strip.detail", lot=bottle), *_stays(bath, held)])
    if low_s is None and high_s is None:
        return replace(offer, detail=detail, choices=(good, bad), typed=typed)
    detail = f"{detail}; {window_words(low_s, high_s)}"
    dipping = Choice(say("strip.dipped"), "dip-strip", label, values)
    after = Typed(
        say("strip.pass_after"), "read_after_s", "number", "strip-test", label, {**values, "result": "pass"}, "s"
    )
    return replace(offer, detail=detail, choices=(dipping, bad), typed=(after,))


def _read(label: str, values: dict[str, str], wait_s: float = 0) -> tuple[Choice, Choice]:
    good = Choice(say("strip.pass"), "strip-test", label, {**values, "result": "pass"}, look="plain", ready_in_s=wait_s)
    bad = Choice(
        say("strip.fail"), "strip-test", label, {**values, "result": "fail"}, look="plain", ready_in_s=wait_s,
        confirm=say("strip.fail.sure", label=label),
    )  # fmt: skip
    return good, bad


def _dipped(scene: Scene, offer: Offer, bath: Bath, dip: Dip) -> Offer:
    """While a strip waits: quiet until it may be read; past its window only a new one covers, a failing one counts."""
    lane, values = scene.lane, {"scope": scene.tag, "strip_lot": dip.strips}
    good, bad = _read(bath.label, values, max(0.0, lane.strip_in_s or 0.0))
    again = Choice(say("strip.dip_again"), "dip-strip", bath.label, values, look="plain")
    too_late = lane.strip_left_s is not None and lane.strip_left_s < 0
    ago = say("strip.ago", ago=clock_text(longest_s(dip.at, scene.now)))
    detail = "; ".join([say("strip.detail", lot=dip.strips), ago, *_stays(bath, scene.unit.strips.get(dip.strips))])
    title = say("lane.strip_read", label=bath.label)
    return replace(offer, title=title, detail=detail, choices=(again, bad) if too_late else (good, bad))


def _stays(bath: Bath, bottle: Strips | None) -> list[str]:
    stays_s = dip_time_s(bath, bottle)
    return [] if stays_s is None else [say("strip.stays", dip=f"{stays_s:g}")]


def _bottle(scene: Scene, bath: Bath) -> str:
    """Promise the label of the bottle whose strip waits, else was scanned, else used last, else fits; "" for none.

    A scanned bottle need not fit the bath: the door says why a strip of it covers nothing.
    """
    picked = scene.unit.strips.get(scene.picked.get("strips", ""))
    dip, left_s = scene.lane.cycle.dip, scene.lane.strip_left_s
    if dip is not None and dip.bath == bath.uid and (left_s is None or left_s >= 0):
        return dip.strips  # a scan takes no strip that waits away
    if picked is not None and not picked.closed:
        return picked.label
    last = str(scene.unit.last_given.get("strip_lot", ""))
    fits = [
        b for b in scene.unit.strips.values()
        if not b.closed and b.controlled and (not bath.strip_type or strip_kind(b.type) == strip_kind(bath.strip_type))
    ]  # fmt: skip
    chosen = next((b.label for b in fits if last in (b.label, b.lot)), fits[0].label if fits else "")
    return chosen or ("" if scene.unit.settings.strip_register else last)
