"""Cycles of a ledger by TinyDB's own queries, read whole: what the app's kept list must agree with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from tinydb import Query, TinyDB, where
from tinydb.queries import QueryInstance
from tinydb.storages import MemoryStorage

from data.ledger import Ledger


def searched(
    ledger: Ledger, tag: str = "", case: str = "", bath: str = "", person: str = "", weeks: Iterable[str] | None = None
) -> list[dict[str, Any]]:
    """Promise the documents that fit everything given, over all weeks or the given ones, oldest first.

    `bath` is a bath's uid, label or lot; `person` is anybody who gave a command of the cycle. Raises as `Ledger.week`.
    """
    wanted = list(_conditions(tag, case, bath, person))
    found: list[dict[str, Any]] = []
    for week in ledger.weeks() if weeks is None else weeks:
        table = TinyDB(storage=MemoryStorage)
        table.insert_multiple(ledger.week(week))
        found += [dict(d) for d in table.all() if all(condition(d) for condition in wanted)]
    return found


def _conditions(tag: str, case: str, bath: str, person: str) -> Iterator[QueryInstance]:
    if tag:
        yield where("scope")["tag"] == tag
    if case:
        yield where("case")["reference"] == case
    if bath:
        named = (where("uid") == bath) | (where("label") == bath) | (where("lot") == bath)
        yield Query()["baths"].any(named)
    if person:
        yield Query()["events"].any(where("by") == person)
