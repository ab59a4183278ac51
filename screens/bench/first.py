"""Which scope is to be seen to first, and whether one tap on the Bench is enough for it. Plain functions; no window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from protocols.clock import Stamp
from protocols.lane import Lane
from protocols.prompts import Level
from protocols.states import State
from screens import plan_words
from screens.offer import Choice, Offer

if TYPE_CHECKING:
    from protocols.hands import Slot
    from screens.planning import Planned


def next_by(lanes: list[Lane], planned: Planned | None, now: Stamp) -> tuple[Lane | None, Slot | None]:
    """Promise the lane to act on now with its place in the plan: over a limit first, then by the plan if there is one.

    What waits for hands without a plan is told by what is called (`most_urgent`).
    """
    urgent = most_urgent(lanes)
    if urgent is not None and urgent.over_s > 0:
        return urgent, None
    lane, slot = plan_words.first_by_plan(lanes, planned, now)
    return (lane, slot) if lane is not None else (urgent, None)


def most_urgent(lanes: list[Lane]) -> Lane | None:
    """Promise the lane to act on now: what is called first, else the scope furthest on its way that waits for hands."""
    if not lanes:
        return None
    if lanes[0].over_s > 0 or (lanes[0].level is not None and lanes[0].level >= Level.READY):
        return lanes[0]
    hands = [lane for lane in lanes if lane.left_s <= 0 and lane.state is not State.WAITING]
    return max(hands, key=lambda lane: (lane.position / max(1, lane.length), lane.scope), default=None)


def single(offer: Offer) -> Choice | None:
    """Promise the one choice of an offer that may be given at once from the Bench; None where a page is needed."""
    if len(offer.choices) != 1 or offer.picks or offer.typed or len(offer.states) > 2:
        return None
    choice = offer.choices[0]
    return None if choice.confirm or choice.lead or choice.ready_in_s > 0 else choice
