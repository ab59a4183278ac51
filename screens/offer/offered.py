"""A scope that was offered to another handheld: nothing is done to it here until that has answered."""

from __future__ import annotations

from screens.offer.model import Offer, Scene
from screens.words import say


def offered(scene: Scene) -> Offer:
    """Whose it is to go on, and how its answer comes in; no choice, for any would be refused."""
    offer = scene.lane.cycle.offer
    device = offer.to if offer is not None else ""
    return Offer(say("offered.title", device=device), say("offered.detail", device=device))
