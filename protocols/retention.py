"""How long weeks stay on the handheld, and whether one may leave it for good.

The unit sets how many weeks are kept (`keep_weeks`; 0, the default, keeps all: no time is claimed as law here). A purge
takes one whole exported week, always the oldest, and leaves a signed stub in its place (`data.stubs`). Nothing may go
that is still at work: a cycle under way, a held scope, one that hangs ready or is out on a case, a bath whose failing
strip would look back into that week, an act that nobody has signed. All of it is known by the seq of receipts, so
nothing is looked up in the record.
"""

from __future__ import annotations

from collections.abc import Iterator

from protocols.clock import local_date
from protocols.context import Context
from protocols.event import Decision, seq_of
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.unit import Scope, Unit
from protocols.wall import weeks_between
from protocols.whereabouts import Place, hang_of_stored, place_of


def purge(ctx: Context) -> Decision | Refusal:
    """Take the oldest week off the handheld. That it is whole where it was sent to, `data.purging` sees to."""
    unit, week = ctx.unit, ctx.subject
    keep = unit.settings.keep_weeks
    ago = weeks_between(week, local_date(ctx.now.wall_ms, unit.settings.zone))
    first_seq, last_seq = int(ctx.get("first_seq")), int(ctx.get("last_seq"))
    if not keep:
        return refuse("no-retention")
    if ago <= keep:
        return refuse("week-kept", week=week, ago=ago, keep=keep)
    if first_seq != (unit.purged.seq if unit.purged else 0) + 1 or not first_seq <= last_seq <= unit.seq:
        return refuse("purge-order", week=week, seq=unit.purged.seq if unit.purged else 0)
    needed = next(_still_needed(ctx, last_seq), "")
    if needed:
        return refuse("week-needed", week=week, what=needed)
    values = {name: int(value) if name.endswith("_seq") else value for name, value in ctx.command.values.items()}
    return Decision("purge", week, {}, values)


def _still_needed(ctx: Context, last_seq: int) -> Iterator[str]:
    """What stands open and rests on lines up to `last_seq`, each with what ends it."""
    unit = ctx.unit
    for tag, cycle in unit.cycles.items():
        if seq_of(cycle.id) <= last_seq:
            yield aside("week-cycle", scope=tag)
    for tag, scope in unit.scopes.items():
        why = _of_scope(ctx, tag, scope, last_seq)
        if why:
            yield why
    yield from _of_baths(unit, last_seq)
    for act, tag in unit.unconfirmed.items():
        if seq_of(act) <= last_seq:
            yield aside("week-unsigned", scope=tag)


def _of_baths(unit: Unit, last_seq: int) -> Iterator[str]:
    for bath in unit.baths.values():
        if not bath.closed and any(seq_of(use.cycle) <= last_seq for use in bath.since):
            yield aside("week-bath", bath=bath.label)


def _of_scope(ctx: Context, tag: str, scope: Scope, last_seq: int) -> str:
    if scope.hold is not None and seq_of(scope.hold.cycle) <= last_seq:
        return aside("week-held", scope=tag, why=scope.hold.why)
    used, last = scope.used, scope.last
    if used is not None and used.cycle and seq_of(used.cycle) <= last_seq:
        return aside("week-case", scope=tag)
    if last is None or seq_of(last.cycle) > last_seq or place_of(ctx.unit, tag) is not Place.STORED:
        return ""
    if hang_of_stored(ctx.unit, scope, ctx.now).state == "due":
        return ""  # its storage has lasted too long: nothing but a new cycle makes it ready again
    return aside("week-stored", scope=tag)
