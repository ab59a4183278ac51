"""decide for the unit's people: who is on the list, what they may do, their badge and PIN.

An administrator may do everything that a lead may, and also changes the list and the unit's settings. A unit that has
no administrator (its first person was added as a lead) has its leads do that; so nobody can be left without either.
"""

from __future__ import annotations

from protocols.context import Context
from protocols.event import Decision
from protocols.refusals import Refusal, refuse
from protocols.unconfirmed import RESERVED
from protocols.unit import Person, Unit


def administrators(unit: Unit) -> list[Person]:
    """Promise who may change people and settings: the administrators, or the leads where there is none."""
    named = [p for p in unit.people.values() if p.role == "administrator"]
    return named or [p for p in unit.people.values() if p.role == "lead"]


def add_person(ctx: Context) -> Decision | Refusal:
    """Put a person on the list. An id is never used for a second person: the record would mean both."""
    if ctx.subject in RESERVED:
        return refuse("reserved-person", subject=ctx.subject)
    if ctx.subject in ctx.unit.people or ctx.subject in ctx.unit.retired:
        return refuse("person-known", subject=ctx.subject)
    return Decision("add-person", ctx.subject, {"person": ctx.subject}, dict(ctx.command.values))


def retire_person(ctx: Context) -> Decision | Refusal:
    """Take a person off the list; the record keeps what they did. The last who may run the unit stays."""
    if ctx.subject not in ctx.unit.people:
        return refuse("no-person", subject=ctx.subject)
    chiefs = administrators(ctx.unit)
    after = [p for p in chiefs if p.id != ctx.subject]
    if not after:
        return refuse("last-administrator", subject=ctx.subject, role=chiefs[0].role)
    if ctx.unit.settings.pins_required and not any(p.pin for p in after):
        return refuse("last-pin", subject=ctx.subject)
    return Decision("retire-person", ctx.subject, {"person": ctx.subject}, {"reason": ctx.get("reason")})


def set_badge(ctx: Context) -> Decision | Refusal:
    """Give a person the badge whose scan names them. A badge says who somebody claims to be; the PIN shows it."""
    if ctx.subject not in ctx.unit.people:
        return refuse("no-person", subject=ctx.subject)
    badge = ctx.get("badge")
    holder = next((p.id for p in ctx.unit.people.values() if p.badge.casefold() == badge.casefold()), "")
    if holder:
        return refuse("no-change") if holder == ctx.subject else refuse("badge-known", badge=badge, holder=holder)
    return Decision("set-badge", ctx.subject, {"person": ctx.subject}, {"badge": badge})


def set_pin(ctx: Context) -> Decision | Refusal:
    """Keep the salted hash of a person's PIN: their own, or anybody's by an administrator."""
    if ctx.subject not in ctx.unit.people:
        return refuse("no-person", subject=ctx.subject)
    by = ctx.command.by
    if by != ctx.subject and by not in (p.id for p in administrators(ctx.unit)):
        return refuse("pin-of-other", subject=ctx.subject, by=by)
    n = int(ctx.get("n"))
    if n & (n - 1):
        return refuse("pin-cost", n=n)
    # A cost may have come as 16384.0: the same number, which the hash function would not take.
    pin = {name: int(value) if name in ("n", "r", "p") else value for name, value in ctx.command.values.items()}
    return Decision("set-pin", ctx.subject, {"person": ctx.subject}, {"pin": pin})
