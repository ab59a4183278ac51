"""What the Watch shows, in words and plain numbers: who is late, who waits, the baths, what hangs. Needs no window."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from protocols import bath as rules
from protocols.clock import Stamp, clock_text, local, local_date, longest_s, parse_date, parse_wall
from protocols.lane import Lane
from protocols.unit import Bath, Scope, Unit
from protocols.whereabouts import Place, hang_of_stored, place_of
from screens.moments import day_and_time, day_words, span_words
from screens.shown import in_words, refused
from screens.telling import bath_title
from screens.watch.sightings import Sightings
from screens.words import say, shipped

# Days of use left from which a bath is shown as near its end: own figure, time to order and pour the next.
NEAR_END_D = 1
# Stages that begin with a scope fresh out of a bath, and the kind of that bath in words.
_OUT_OF = {"final rinse": "watch.out_of_disinfectant", "rinse": "watch.out_of_detergent"}


@dataclass(frozen=True, slots=True)
class ScopeRow:
    """A scope in a cycle that the shift lead must know of. `over` is the time past the limit, "" where it waits."""

    tag: str
    family: str
    title: str
    over: str
    details: tuple[str, ...]
    disinfected: bool


@dataclass(frozen=True, slots=True)
class BathRow:
    """One open bath: `share` of its days that are gone (None where days say nothing), `state` calm, near or blocked."""

    label: str
    title: str
    details: tuple[str, ...]
    share: float | None
    state: str


@dataclass(frozen=True, slots=True)
class StoredRow:
    """One scope hung up: `over` where its hang time has ended, `soon` where it ends soon."""

    tag: str
    family: str
    title: str
    details: tuple[str, ...]
    released: bool
    over: bool
    soon: bool = False


def past_limit(unit: Unit, now: Stamp, lanes: Iterable[Lane], seen: Sightings) -> list[ScopeRow]:
    """Promise a row for every scope past a limit, furthest past first."""
    late = sorted((lane for lane in lanes if lane.over_s > 0), key=lambda lane: (-lane.over_s, lane.scope))
    return [_late_row(unit, now, lane, seen) for lane in late]


def waiting(unit: Unit, now: Stamp, lanes: Iterable[Lane], seen: Sightings) -> list[ScopeRow]:
    """Promise a row for every scope that waits for a lead and is not past a limit as well."""
    held = [lane for lane in lanes if lane.cycle.hold is not None and lane.over_s <= 0]
    return [
        ScopeRow(
            lane.scope,
            shipped(lane.protocol.spoken),
            _held(lane),
            "",
            _said((_facts(_waited(lane, now), _whose(unit, lane, seen)), _note(unit, lane, seen))),
            lane.cycle.disinfected,
        )
        for lane in held
    ]


def _waited(lane: Lane, now: Stamp) -> str:
    return say("watch.waits", time=clock_text(longest_s(lane.cycle.last_at, now)))


def _said(lines: Iterable[str]) -> tuple[str, ...]:
    return tuple(line for line in lines if line)


def _held(lane: Lane) -> str:
    hold = lane.cycle.hold
    return say("watch.lead", why=in_words(hold.why)) if hold else ""


def _late_row(unit: Unit, now: Stamp, lane: Lane, seen: Sightings) -> ScopeRow:
    limit_ms = now.wall_ms - round(lane.over_s * 1000)
    limit = say("watch.limit_at", time=f"{local(limit_ms, unit.settings.zone):%H:%M}")
    # A scope may wait for a lead and still have to be rinsed: what the hands must do comes first.
    hold = say("watch.lead_too", why=in_words(lane.cycle.hold.why)) if lane.cycle.hold else ""
    title = _late_title(lane)
    tap = seen.taps.get(lane.cycle.id)
    bath = lane.cycle.soak.label if lane.cycle.soak else tap.bath if tap else ""
    where = say("watch.bath", label=bath) if bath else ""
    over = say("watch.over", time=clock_text(lane.over_s))
    lines = (_facts(limit, where, _whose(unit, lane, seen)), hold, _note(unit, lane, seen))
    return ScopeRow(lane.scope, shipped(lane.protocol.spoken), title, over, _said(lines), lane.cycle.disinfected)


def _late_title(lane: Lane) -> str:
    if lane.delay_in_s is not None and lane.delay_in_s < 0 and (lane.limit_in_s is None or lane.limit_in_s >= 0):
        return say("watch.not_cleaned", limit=span_words(lane.cycle.delay.max_s or 0) if lane.cycle.delay else "")
    if lane.kind == "start" and lane.step.stage in _OUT_OF:
        return say(_OUT_OF[lane.step.stage])
    known = {"soak": "watch.late_soak", "air": "watch.late_air", "run": "watch.late_run", "each": "watch.late_each"}
    return say(known[lane.kind]) if lane.kind in known else say("watch.late_start", says=shipped(lane.step.says))


def _facts(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _name(unit: Unit, person: str) -> str:
    return unit.name_of(person)


def _at(unit: Unit, wall: str) -> str:
    return f"{local(parse_wall(wall), unit.settings.zone):%H:%M}"


def _whose(unit: Unit, lane: Lane, seen: Sightings) -> str:
    tap = seen.taps.get(lane.cycle.id)
    return say("watch.whose", name=_name(unit, tap.by), time=_at(unit, tap.wall)) if tap else ""


def _note(unit: Unit, lane: Lane, seen: Sightings) -> str:
    note = seen.notes.get(lane.cycle.id)
    return say("watch.noted", name=_name(unit, note.by), time=_at(unit, note.wall), text=note.text) if note else ""


def baths(unit: Unit, now: Stamp, seen: Sightings) -> list[BathRow]:
    """Promise a row for every bath that is of use or blocked: blocked ones first, then the nearest to its end."""
    gone = spent(unit)
    there = [bath for bath in unit.baths.values() if not bath.closed and bath.label not in gone]
    found = [_bath_row(unit, now, bath, seen) for bath in there]
    order = {"blocked": 0, "near": 1, "calm": 2}
    kinds = {bath.label: bath.kind != "disinfectant" for bath in there}
    left = {bath.label: rules.days_left(bath, now, unit.settings.zone) for bath in there}

    def need(row: BathRow) -> tuple[int, bool, bool, int, str]:
        days = left[row.label]
        return order[row.state], kinds[row.label], days is None, days or 0, row.label

    return sorted(found, key=need)


def _bath_row(unit: Unit, now: Stamp, bath: Bath, seen: Sightings) -> BathRow:
    wrong = rules.unusable(bath, unit, now)
    lying = sorted(cycle.scope for cycle in unit.cycles.values() if cycle.soak and cycle.soak.bath == bath.uid)
    inside = say("watch.inside", tags=", ".join(lying)) if lying else ""
    if bath.kind == "detergent":
        temp = seen.temps_c.get(bath.uid)
        warm = say("given.temp_c", value=f"{temp:g}") if temp is not None else ""
        days, share, state = _days(unit, now, bath)
        lines = (_facts(_for_whom(unit, bath), warm), days if state == "near" else "")
        share = None
    else:
        days, share, state = _days(unit, now, bath)
        lines = (_facts(days, inside), _tested(unit, bath))
    if wrong:
        why, remedy = refused(wrong)
        lines, state = (say("watch.blocked", why=why), remedy, inside), "blocked"
    return BathRow(bath.label, bath_title(bath.title), _said(lines), share, state)


def spent(unit: Unit) -> list[str]:
    """Promise the labels of detergent baths whose one scope is done with them: of no use, still to be discarded."""
    open_ids = {cycle.id for cycle in unit.cycles.values()}
    found = [b for b in unit.baths.values() if b.kind == "detergent" and not b.closed]
    return sorted(b.label for b in found if b.cycle and b.cycle not in open_ids)


def _for_whom(unit: Unit, bath: Bath) -> str:
    owner = next((c.scope for c in unit.cycles.values() if c.id == bath.cycle), "")
    return say("watch.detergent_for", tag=owner) if owner else say("watch.detergent_fresh")


def _days(unit: Unit, now: Stamp, bath: Bath) -> tuple[str, float | None, str]:
    """How far a bath's life has gone: in words, as a share, and whether its end is near."""
    zone = unit.settings.zone
    last = rules.last_day(bath, zone)
    if last is None:
        return "", None, "calm"
    begun = local_date(bath.poured.wall_ms, zone)
    if bath.activated:
        begun = min(begun, parse_date(bath.activated))
    gone, whole = (rules.today(bath, now, zone) - begun).days, (last[0] - begun).days
    left = rules.days_left(bath, now, zone)
    words = say("watch.days", at=gone, of=whole, day=day_words(last[0]), what=in_words(last[1]))
    state = "near" if left is not None and left <= NEAR_END_D else "calm"
    return words, min(1.0, max(0.0, gone / whole)) if whole > 0 else 1.0, state


def _tested(unit: Unit, bath: Bath) -> str:
    """A strip covers one scope, once: unused ones are named with their scope, never as a pass for the bath."""
    if bath.use != "manual":
        return say("watch.machine_only")
    if bath.single_use:
        return say("watch.single_use")
    open_ids = {cycle.id for cycle in unit.cycles.values()}
    ready = sorted(t.scope for t in bath.tests.values() if not t.used and t.result == "pass" and t.cycle in open_ids)
    return say("watch.tested_for", tags=", ".join(ready)) if ready else say("watch.test_next")


def stored(unit: Unit, now: Stamp, families: dict[str, str]) -> list[StoredRow]:
    """Promise a row for every scope that hangs after a completed cycle, nearest to its limit first.

    `families` maps a protocol's id to its spoken family.
    """
    hung = [s for s in unit.scopes.values() if place_of(unit, s.tag) is Place.STORED]
    found = sorted(hung, key=lambda s: _left_s(unit, s, now))
    return [_stored_row(unit, now, s, families.get(s.protocol, "")) for s in found]


def _left_s(unit: Unit, scope: Scope, now: Stamp) -> float:
    left = hang_of_stored(unit, scope, now).left_s
    return float("inf") if left is None else left


def _stored_row(unit: Unit, now: Stamp, scope: Scope, family: str) -> StoredRow:
    last, zone = scope.last, unit.settings.zone
    left_s, state = _left_s(unit, scope, now), hang_of_stored(unit, scope, now).state
    place = last.place if last else ""
    lines = []
    if last is not None and last.dried is not None:
        lines.append(say("watch.dried", when=day_and_time(last.dried.wall_ms, zone)))
        if left_s < float("inf"):
            until_ms = now.wall_ms + round(left_s * 1000)
            lines.append(say("watch.hang_until", when=day_and_time(until_ms, zone)))
    details = [", ".join(lines)]
    if last is not None and last.released_by:
        details.append(say("watch.released", name=_name(unit, last.released_by)))
    if left_s < 0:
        title = say("watch.hang_over", time=span_words(-left_s))
        details.append(say("watch.reprocess"))
    elif left_s < float("inf"):
        title = say("watch.hang_soon" if state == "due soon" else "watch.hang_left", time=span_words(left_s))
    else:
        title = say("watch.hang_no_limit")
    if place:
        title = say("watch.in_place", title=title, place=place)
    released = bool(last and last.released_by)
    return StoredRow(scope.tag, family, title, _said(details), released, left_s < 0, state == "due soon")
