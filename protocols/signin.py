"""Signing in with a PIN, and the growing delay after wrong ones.

`decide` sees only the salted hash of what was typed (`data/pins.py` computes it), so no PIN is ever in the record, a
log or a replay file. Wrong PINs are events: the delay survives a restart, and it runs on proven time, so that neither a
step of the wall clock nor switching the handheld off shortens it. There is no last try after which somebody is shut
out for good: a bench must not stop because of a prank.
"""

from __future__ import annotations

import hmac

from protocols.clock import Stamp, clock_text, proven_s
from protocols.context import Context
from protocols.event import Decision
from protocols.refusals import Refusal, refuse
from protocols.unit import Person

# Two slips of a gloved finger cost nothing; then 30 s, doubling up to an hour. Own figures, inside the range that NIST
# SP 800-63B (5.2.2) gives for such delays: from 30 s up to an hour (from memory).
FREE_WRONG = 2
FIRST_WAIT_S = 30
LONGEST_WAIT_S = 3600


def wait_after(wrong: int) -> int:
    """Promise how long (s) nobody may try again after that many wrong PINs in a row."""
    if wrong <= FREE_WRONG:
        return 0
    # Bounded before it is doubled, so that no count makes a huge number.
    return min(LONGEST_WAIT_S, FIRST_WAIT_S << min(wrong - FREE_WRONG - 1, 12))


def left_s(person: Person, now: Stamp) -> float:
    """Promise how long (s, proven time) this person's PIN is still not taken."""
    if person.wrong_at is None:
        return 0
    return max(0.0, person.wait_s - proven_s(person.wrong_at, now))


def sign_in(ctx: Context) -> Decision | Refusal:
    """Take the hash of a typed PIN: right, it becomes `sign-in`; wrong, it becomes `pin-wrong`, which is kept too."""
    person = ctx.unit.people.get(ctx.subject)
    if person is None:
        return refuse("unknown-person", by=ctx.subject)
    if person.pin is None:
        return refuse("no-pin", subject=ctx.subject)
    left = left_s(person, ctx.now)
    if left > 0:
        return refuse("pin-wait", subject=ctx.subject, wrong=person.wrong, left=clock_text(left + 0.999))
    refs = {"person": ctx.subject}
    if hmac.compare_digest(person.pin.hash, ctx.get("hash")):
        return Decision("sign-in", ctx.subject, refs, {"wrong_before": person.wrong})
    wrong = person.wrong + 1
    return Decision("pin-wrong", ctx.subject, refs, {"wrong": wrong, "wait_s": wait_after(wrong)})
