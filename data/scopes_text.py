"""The register of scopes in words: where each is now, how its storage stands, and what is against its use."""

from __future__ import annotations

from collections.abc import Iterator

from protocols.clock import Stamp, clock_text
from protocols.unit import Scope, Unit
from protocols.whereabouts import Hang, Place, gone_s, hang_of_stored, place_of, why_there

_TITLES = ("tag", "where", "because", "storage", "protocol", "serial", "channels", "loan")
_HOUR_S, _DAY_S = 3600, 86_400


def lines(unit: Unit, now: Stamp) -> Iterator[str]:
    """Promise a table of every registered scope, in order of its tag, line by line."""
    rows = [_TITLES, *(_row(unit, unit.scopes[tag], now) for tag in sorted(unit.scopes))]
    if len(rows) == 1:
        yield "no scope is registered; Setup adds one, or the command add-scope"
        return
    widths = [max(len(row[i]) for row in rows) for i in range(len(_TITLES))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _row(unit: Unit, scope: Scope, now: Stamp) -> tuple[str, ...]:
    place = place_of(unit, scope.tag)
    loan = " to ".join(filter(None, (scope.loaned_from, scope.loaned_until))) or ("yes" if scope.loaner else "")
    because = why_there(unit, scope.tag)
    gone = gone_s(scope, now)
    if place is Place.WAITING and gone is not None:
        limit = scope.used.max_s if scope.used is not None else None
        because += f", {clock_text(gone)} ago" + (f" of {clock_text(limit)}" if limit is not None else "")
    return (
        scope.tag, place.value, because, _storage(hang_of_stored(unit, scope, now)) if place is Place.STORED else "",
        scope.protocol, scope.serial, scope.channels, loan,
    )  # fmt: skip


def _storage(hang: Hang) -> str:
    if hang.left_s is None:
        return hang.state
    return f"{hang.state}, {_span(abs(hang.left_s))} {'past' if hang.left_s < 0 else 'left'}"


def _span(seconds: float) -> str:
    if seconds >= 2 * _DAY_S:
        return f"{int(seconds // _DAY_S)} d"
    return f"{int(seconds // _HOUR_S)} h" if seconds >= 2 * _HOUR_S else f"{int(seconds // 60)} min"
