"""Rows of the Watch about scopes between cycles, handovers and what is due. Needs no window."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from protocols.clock import Stamp, clock_text, longest_s, parse_date
from protocols.shifts import unacknowledged
from protocols.unit import Unit
from protocols.upkeep import due_list
from protocols.whereabouts import Place, gone_s, place_of, why_there
from screens.moments import day_and_time, day_words, span_words
from screens.scope.acts import lines, place_words
from screens.shown import in_words
from screens.words import say

# How many rows of what is merely due soon: the rest is counted, so that what is overdue is never pushed away.
SOON_MOST = 4


@dataclass(frozen=True, slots=True)
class Row:
    """One card: `over` is the time past a limit, "" inside it; `level` calm, near or over; `page` where it leads."""

    name: str
    family: str
    title: str
    over: str = ""
    details: tuple[str, ...] = ()
    level: str = "calm"
    page: str = "scope"


def not_come_in(unit: Unit, now: Stamp, families: Mapping[str, str]) -> list[Row]:
    """Promise a row for every scope whose procedure has ended and that has not come in, the longest first."""
    gone = {tag: gone_s(scope, now) for tag, scope in unit.scopes.items() if place_of(unit, tag) is Place.WAITING}
    tags = sorted((tag for tag, seconds in gone.items() if seconds is not None), key=lambda tag: -(gone[tag] or 0))
    return [_gone(unit, now, tag, gone[tag] or 0, families) for tag in tags]


def _gone(unit: Unit, now: Stamp, tag: str, gone: float, families: Mapping[str, str]) -> Row:
    scope = unit.scopes[tag]
    used = scope.used
    limit, warn = (used.max_s, used.warn_s) if used is not None else (None, None)
    case = used.case if used is not None else ""
    left = None if limit is None else limit - gone
    title = say("watch.not_in", time=clock_text(gone))
    details = [say("watch.not_in_case", case=case)]
    if limit is not None and left is not None:
        until = day_and_time(now.wall_ms + round(left * 1000), unit.settings.zone)
        details.append(say("watch.not_in_limit", limit=span_words(limit), when=until))
    over = say("watch.over", time=clock_text(-left)) if left is not None and left < 0 else ""
    near = warn is not None and gone >= warn
    family = families.get(scope.protocol, "")
    return Row(tag, family, title, over, tuple(details), "over" if over else "near" if near else "calm")


def not_in_service(unit: Unit, now: Stamp, families: Mapping[str, str]) -> list[Row]:
    """Promise a row for every scope that is held, out of service or away for repair."""
    places = (Place.HELD, Place.OUT_OF_SERVICE, Place.AWAY)
    tags = [tag for tag in sorted(unit.scopes) if place_of(unit, tag) in places]
    return [
        Row(tag, families.get(unit.scopes[tag].protocol, ""), place_words(place_of(unit, tag)), "",
            tuple(lines(unit, tag, now)))
        for tag in tags
    ]  # fmt: skip


def in_use(unit: Unit) -> str:
    """Promise in one line which scopes are out on a case, "" for none."""
    tags = [tag for tag in sorted(unit.scopes) if place_of(unit, tag) is Place.IN_USE]
    out = [f"{tag} ({in_words(why_there(unit, tag))})" for tag in tags]
    return say("watch.in_use", scopes=", ".join(out)) if out else ""


def offered(unit: Unit, now: Stamp) -> list[Row]:
    """Promise a row for every cycle that another handheld has not yet confirmed."""
    found = []
    for cycle in sorted(unit.cycles.values(), key=lambda c: c.scope):
        if cycle.offer is not None:
            since = clock_text(longest_s(cycle.offer.at, now))
            words = say("watch.offered", device=cycle.offer.to, time=since)
            found.append(Row(cycle.scope, "", words, "", (say("watch.offered_both"),), "near", "handover"))
    return found


def to_acknowledge(unit: Unit) -> list[Row]:
    """Promise a row for every running soak that whoever came in has still to look at."""
    shift = unit.shift
    if shift is None:
        return []
    words = say("watch.acknowledge", incoming=unit.name_of(shift.incoming), outgoing=unit.name_of(shift.outgoing))
    found = []
    for tag in unacknowledged(unit):
        soak = unit.cycles[tag].soak
        where = (say("watch.bath", label=soak.label),) if soak is not None else ()
        found.append(Row(tag, "", words, "", where, "near", "steps"))
    return found


def due(unit: Unit, now: Stamp) -> tuple[list[Row], str]:
    """Promise a row for all that is due or due soon, and how many more are due soon, in words."""
    wanted = [one for one in due_list(unit, now) if one.state != "holds"]
    past = [one for one in wanted if one.state == "due"]
    soon = [one for one in wanted if one.state != "due"]
    shown = [*past, *soon[:SOON_MOST]]
    more = say("watch.due_more", count=len(soon) - SOON_MOST) if len(soon) > SOON_MOST else ""
    rows = []
    for one in shown:
        what = say(f"due.{one.kind}", about=unit.name_of(one.about), what=one.what)
        day = day_words(parse_date(one.day))
        title = say("due.past", day=day) if one.left_d < 0 else say("due.soon", day=day, days=one.left_d)
        page = "scope" if one.kind in ("loan", "culture") else "setup-strips" if one.kind == "strips" else "upkeep"
        rows.append(Row(one.about, "", what, "", (title,), "over" if one.left_d < 0 else "near", page))
    return rows, more
