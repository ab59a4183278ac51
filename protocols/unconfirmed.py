"""Acts that nobody may be kept from: accepted while nobody is signed in, signed "unconfirmed", confirmed by name later.

A scope must come out of its soak, be rinsed, be given up or be taken out of service whoever stands there, with wet
gloves and a locked handheld. Everything else waits until somebody has signed in; a release never comes this way.
"""

from __future__ import annotations

from protocols.context import Context
from protocols.event import Command, Decision
from protocols.refusals import Refusal, refuse
from protocols.shelf import Shelf
from protocols.unit import Unit

# The pseudo person who signs what nobody has signed yet. No person can be added under a reserved id.
UNCONFIRMED = "unconfirmed"
RESERVED = frozenset((UNCONFIRMED, "device"))
_ALWAYS = frozenset(("lift", "interrupt", "out-of-service"))
_RINSING = frozenset(("start", "count"))
_RINSE_STAGES = ("rinse", "final rinse")


def may_be_unconfirmed(unit: Unit, shelf: Shelf, command: Command) -> bool:
    """Promise whether the command is one of the acts for which nobody need be signed in.

    They are lift, interrupt, out-of-service, and start or count of a rinse: chemicals must not dry on a scope.
    """
    if command.do in _ALWAYS:
        return True
    cycle = unit.cycles.get(command.subject)
    if command.do not in _RINSING or cycle is None:
        return False
    step = shelf.protocol(cycle.text_sha256).step(cycle.step)
    return step.kind == "count" and step.stage in _RINSE_STAGES


def acts_on(unit: Unit, tag: str) -> list[str]:
    """Promise the ids of the acts on a scope that nobody has signed yet."""
    return [act for act, scope in unit.unconfirmed.items() if scope == tag]


def flagged(decision: Decision) -> Decision:
    """Promise the decision with the mark that nobody has signed it."""
    return decision._replace(data={**decision.data, "unconfirmed": True})


def confirm_acts(ctx: Context) -> Decision | Refusal:
    """Whoever is signed in stands for every unconfirmed act on one scope; the events named keep their own signature."""
    acts = acts_on(ctx.unit, ctx.subject)
    if not acts:
        return refuse("nothing-to-confirm", subject=ctx.subject)
    return Decision("confirm-acts", ctx.subject, {"scope": ctx.subject}, {"acts": acts})
