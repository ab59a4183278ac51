"""What a page offers for one scope now: the sentence, what a tap states, and the choices, each one command.

Pure Python: pages draw an Offer, tests read it. Rules about soaks stay in protocols/; an offer only puts the command
that fits within one tap, with values the unit gave last time, and the door still judges it.
"""

from screens.offer.model import Choice, Offer, Pick, Typed
from screens.offer.now import bath_refused, offer_for, wrongs_for

__all__ = ["Choice", "Offer", "Pick", "Typed", "bath_refused", "offer_for", "wrongs_for"]
