"""Whether this solution may be used now, by this scope, for this soak; and if not, why not and what to do.

Day count: the day of pouring (or activation, if that came first) is day 0. A bath with a reuse life of 14 days is
usable through day 14 and blocked on day 15 (our convention; the tables give only "14 days"). A printed expiry date is
the last usable day. Age is counted on the longest possible elapsed time, so setting the wall clock back gains nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from protocols.clock import Stamp, local_date, parse_date
from protocols.model import Claim, Protocol, Step
from protocols.reasons import aside, kept
from protocols.refusals import Refusal, refuse
from protocols.unit import Bath, Cycle, StripTest, Unit
from protocols.wall import days_after


def today(bath: Bath, now: Stamp, zone: str) -> date:
    """Promise the latest date it can be, as far as this bath's own age tells: never earlier than its age allows."""
    return latest_day(bath.poured, now, zone)


def latest_day(since: Stamp, now: Stamp, zone: str) -> date:
    """Promise the latest date it can be, by the wall clock or by what may have passed since that moment."""
    aged_wall_ms = since.wall_ms + now.longest_ms - since.longest_ms
    return max(local_date(now.wall_ms, zone), local_date(aged_wall_ms, zone))


def last_day(bath: Bath, zone: str) -> tuple[date, str] | None:
    """Promise the last usable day and what sets it; the earliest of all clocks wins. None without any."""
    days = sorted(_last_days(bath, zone))
    return days[0] if days else None


def _last_days(bath: Bath, zone: str) -> Iterator[tuple[date, str]]:
    if bath.expires:
        yield parse_date(bath.expires), kept("printed")
    if bath.opened_d_max is not None and bath.opened:
        yield days_after(parse_date(bath.opened), bath.opened_d_max), kept("opened")
    if bath.reuse_d_max is not None:
        begun = local_date(bath.poured.wall_ms, zone)
        if bath.activated:
            begun = min(begun, parse_date(bath.activated))
        yield days_after(begun, bath.reuse_d_max), kept("reuse")


def days_left(bath: Bath, now: Stamp, zone: str) -> int | None:
    """Promise how many whole days of use remain after today; negative when past, None without a limit."""
    last = last_day(bath, zone)
    return (last[0] - today(bath, now, zone)).days if last else None


def unusable(bath: Bath, unit: Unit, now: Stamp) -> Refusal | None:
    """Promise why nobody may use this bath now, whatever the scope; None when its own clocks allow it."""
    if bath.closed:
        return refuse("bath-closed", bath=bath.label, why=bath.closed)
    if bath.failed:
        return refuse("bath-failed", bath=bath.label)
    if bath.withdrawn:
        return refuse("bath-withdrawn", bath=bath.label, why=bath.withdrawn)
    if bath.needs_activation and not bath.activated:
        return refuse("bath-not-activated", bath=bath.label, title=bath.title)
    last = last_day(bath, unit.settings.zone)
    if last and today(bath, now, unit.settings.zone) > last[0]:
        return refuse("bath-expired", bath=bath.label, what=last[1], date=last[0].isoformat())
    return None


def unsuitable(
    bath: Bath, unit: Unit, cycle: Cycle, step: Step, protocol: Protocol, claims: Mapping[str, Claim]
) -> Refusal | None:
    """Promise why this cycle may not lie in this bath at this step; None when it may."""
    if bath.kind != step.bath:
        known = ", ".join(b.label for b in unit.baths.values() if b.kind == step.bath and not b.closed) or aside("none")
        return refuse("wrong-bath", bath=bath.label, kind=bath.kind, step=step.id, needed=step.bath, known=known)
    if bath.kind == "detergent":
        # Fresh detergent for every endoscope (HICPAC audit tool; Queensland Health module 5.4).
        if bath.cycle and bath.cycle != cycle.id:
            return refuse("bath-used", bath=bath.label, other=aside("another-cycle"))
        return None
    if bath.single_use and bath.uses:
        return refuse("bath-single-use", bath=bath.label)
    if bath.use == "unsuitable":
        return refuse("unsuitable", title=bath.title)
    if bath.use != "manual":
        return refuse("not-manual", title=bath.title, use=bath.use)
    claim = claims.get(bath.claim)
    if claim is not None and not claim.enabled and bath.claim not in unit.claims:
        return refuse("not-enabled", claim=bath.claim, title=bath.title)
    if protocol.claims and bath.claim not in protocol.claims:
        return refuse("claim-not-allowed", claim=bath.claim, title=bath.title, known=", ".join(protocol.claims))
    return None


def temperature(bath: Bath, step: Step, temp_c: float | None) -> Refusal | None:
    """Promise why this temperature does not do. The narrower of the claim's and the step's range holds.

    No extrapolation: below the claim's minimum nothing is proven, however long the soak.
    """
    if temp_c is None:
        return refuse("no-temperature", bath=bath.label)
    lows = [x for x in (bath.temp_c_min, step.temp_c_min.value if step.temp_c_min else None) if x is not None]
    highs = [x for x in (bath.temp_c_max, step.temp_c_max.value if step.temp_c_max else None) if x is not None]
    if lows and temp_c < max(lows):
        return refuse("too-cold", bath=bath.label, temp=f"{temp_c:g}", low=f"{max(lows):g}")
    if highs and temp_c > min(highs):
        return refuse("too-warm", bath=bath.label, temp=f"{temp_c:g}", high=f"{min(highs):g}")
    return None


def strip_for(bath: Bath, cycle: Cycle, test_id: str | None) -> StripTest | Refusal:
    """Promise the strip test that covers this soak, or why none does. One strip covers one scope in one bath, once."""
    if test_id is None:
        mine = [t for t in bath.tests.values() if t.cycle == cycle.id and not t.used]
        if not mine:
            return refuse("no-strip", bath=bath.label, subject=cycle.scope)
        test = max(mine, key=lambda t: t.seq)
    elif test_id not in bath.tests:
        return refuse("unknown-strip", test=test_id, bath=bath.label)
    else:
        test = bath.tests[test_id]
    if test.cycle != cycle.id:
        return refuse("strip-other", test=test.id, other=test.scope, subject=cycle.scope)
    if test.used:
        return refuse("strip-used", test=test.id)
    if test.result == "void":
        return refuse("strip-void", test=test.id)
    if test.result != "pass":
        return refuse("strip-failed", test=test.id, bath=bath.label)
    if test.seq < bath.topped:
        return refuse("strip-before", test=test.id, bath=bath.label)
    return test
