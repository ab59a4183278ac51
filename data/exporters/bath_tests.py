"""The rows and columns of baths.csv and tests.csv: one table each that is header, documentation and code at once.

A bath stands in the export of every week in which it was poured or closed, or in which a cycle ended that lay in it. A
test stands in the week of its cycle, as all of a cycle does; one without a cycle, in the week in which it was read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from data.exporters.csv_text import Column, Kind
from data.gather import WeekRead
from protocols.clock import parse_wall
from protocols.event import Event


@dataclass(slots=True)
class BathRow:
    """One bath: its facts as poured, how it was closed, and how often ended cycles of the week lay in it."""

    facts: dict[str, Any]
    close: Event | None = None
    soaks: int = 0
    cycles: set[str] = field(default_factory=set)


def _fact(key: str, name: str, means: str, kind: Kind = "text") -> Column[BathRow]:
    return Column(name, kind, means, lambda r: r.facts.get(key))


def _closed(value: Callable[[Event], Any], name: str, means: str) -> Column[BathRow]:
    return Column(name, "text", means, lambda r: value(r.close) if r.close is not None else None)


BATH_COLUMNS: tuple[Column[BathRow], ...] = (
    _fact("uid", "bath_id", "id of its pouring: device and seq"),
    _fact("label", "bath", "its label"),
    _fact("kind", "kind", "detergent or disinfectant"),
    _fact("title", "title", "what it is, by its generic name"),
    _fact("claim", "claim", "published claim it was poured under"),
    _fact("lot", "lot", "lot number"),
    _fact("expires", "expires", "shelf-life date printed on the container"),
    _fact("opened", "opened", "day the container was opened"),
    _fact("opened_d_max", "opened_life_d", "use life of the open container", "number"),
    _fact("activated", "activated", "day it was activated or diluted"),
    _fact("reuse_d_max", "reuse_life_d", "reuse life of the bath", "number"),
    _fact("contact_s_min", "contact_min_s", "contact time of the claim", "number"),
    _fact("temp_c_min", "temp_min_c", "lowest temperature of the claim", "number"),
    _fact("poured", "poured_at", "when it was poured"),
    _fact("poured_by", "poured_by", "who poured it"),
    _closed(lambda e: e.wall, "closed_at", "when it was discarded, where that was in this week"),
    _closed(lambda e: e.by, "closed_by", "who discarded it"),
    _closed(lambda e: e.data.get("reason"), "closed_reason", "why"),
    Column("soaks", "number", "soaks in it by cycles that ended in this week", lambda r: r.soaks),
    Column("cycles", "number", "cycles that ended in this week and lay in it", lambda r: len(r.cycles)),
)


def bath_rows(read: WeekRead, documents: list[dict[str, Any]]) -> list[BathRow]:
    """Promise the baths of a week, in order of their ids."""
    found: dict[str, BathRow] = {}
    for document in documents:
        for facts in document["baths"]:
            found.setdefault(facts["uid"], BathRow(facts))
        for soak in (*document["detergent"]["soaks"], *document["disinfection"]["soaks"]):
            row = found.get(soak["bath_uid"])
            if row is not None:
                row.soaks += 1
                row.cycles.add(document["cycle"])
    for event in read.others:
        if event.kind == "pour-bath" and event.id not in found:
            facts = {"uid": event.id, "label": event.subject, "poured": event.wall, "poured_by": event.by}
            found[event.id] = BathRow({**event.data["bath"], **facts})
        elif event.kind == "close-bath":
            uid = event.refs.get("bath", "")
            found.setdefault(uid, BathRow({"uid": uid, "label": event.subject})).close = event
    return [found[uid] for uid in sorted(found)]


TestRow = dict[str, Any]


def _test(name: str, means: str, kind: Kind = "text") -> Column[TestRow]:
    return Column(name, kind, means, lambda r: r.get(name))


TEST_COLUMNS: tuple[Column[TestRow], ...] = (
    _test("test", "leak test, strip test or cleaning verification"),
    _test("at", "when it was read"),
    _test("by", "who read it"),
    _test("result", "pass, fail, or as the step or meter has it"),
    _test("cycle", "id of the cycle; empty for a strip without one"),
    _test("scope_tag", "tag of the scope"),
    _test("step", "step of the protocol"),
    _test("bath", "label of the bath (strip test)"),
    _test("bath_id", "id of its pouring"),
    _test("bath_lot", "its lot"),
    _test("strip_lot", "lot of the strip bottle"),
    _test("test_id", "id of the strip test"),
    _test("method", "what was measured (cleaning verification)"),
    _test("meter", "on which meter"),
    _test("value", "the reading", "number"),
    _test("value_unit", "its unit"),
    _test("corrected_by", "lead who corrected a leak result"),
    _test("corrected_why", "why"),
)


def test_rows(read: WeekRead, documents: list[dict[str, Any]]) -> list[TestRow]:
    """Promise the tests of a week in order of time: those of ended cycles, and strips that belong to no cycle."""
    rows: list[TestRow] = []
    for document in documents:
        rows += _of_cycle(document)
    for event in read.others:
        if event.kind == "strip-test" and not event.refs.get("cycle"):
            rows.append({
                "test": "strip test", "at": event.wall, "by": event.by, "result": event.data.get("result"),
                "scope_tag": event.data.get("scope"), "bath": event.subject, "bath_id": event.refs.get("bath"),
                "bath_lot": event.data.get("bath_lot"), "strip_lot": event.data.get("strip_lot"),
                "test_id": event.data.get("test"),
            })  # fmt: skip
    return sorted(rows, key=lambda row: (parse_wall(row["at"]), str(row.get("cycle"))))


def _of_cycle(document: dict[str, Any]) -> Iterator[TestRow]:
    own = {"cycle": document["cycle"], "scope_tag": document["scope"]["tag"]}
    for test in document["leak_tests"]:
        yield {**test, "test": "leak test", **own}
    for strip in document["disinfection"]["strip_tests"]:
        yield {**strip, "test": "strip test", "bath_id": strip["bath_uid"], "test_id": strip["test"], **own}
    for reading in document["verification"]:
        yield {
            **reading,
            "test": "cleaning verification",
            "result": reading["verdict"],
            "value_unit": reading["unit"],
            **own,
        }
