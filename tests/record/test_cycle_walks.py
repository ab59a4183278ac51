"""Cycles that go any way at all: each can be summarised and exported, and the figures agree with a plain count."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from typing import Any

import pytest
from recorded_bench import own_events

from data.cycles import summarise
from data.exporters.csv_text import table
from data.exporters.cycle_columns import CYCLE_COLUMNS
from data.exporters.cycle_row import CycleRow
from protocols.event import Event
from tests.engine.driver import SCOPES, Bench

TAPS = 400


def walk(seed: int) -> Bench:
    """Promise a bench on which a person of that seed has tapped, mostly sensibly."""
    chance = random.Random(seed)
    bench = Bench()
    tags = list(SCOPES)[:4]
    odd: list[Callable[[str], Any]] = [
        lambda tag: bench.give("undo", tag),
        lambda tag: bench.give("note", tag, what="other", text="=seen"),
        lambda tag: bench.give("lift", tag, reason="slipped"),
        lambda tag: bench.give("interrupt", tag, reason="power"),
        lambda tag: bench.give("pass", tag, debris="seen"),
        lambda tag: bench.give("look", tag, outcome="debris"),
        lambda tag: bench.give("look", tag, outcome="leak", **bench.given(tag)),
        lambda tag: bench.give("check", tag, dry=False),
        lambda tag: bench.give("run-end", tag, result="failed"),
        lambda tag: bench.give("choose", tag, way=chance.choice(("soak", "machine"))),
        lambda tag: bench.give("correct", tag, what="leak", reason="cap"),
        lambda tag: bench.give("strip-test", "H4", scope=tag, result="pass", strip_lot="S"),
        lambda tag: bench.give("read", tag, method="protein", meter="kit", value=chance.choice((1, 4, 9))),
        lambda tag: bench.wait(chance.choice((1, 30, 700, 4000))),
    ]
    for _ in range(TAPS):
        tag = chance.choice(tags)
        scope, cycle = bench.unit.scopes[tag], bench.unit.cycles.get(tag)
        bench.wait(1)
        if cycle is None:
            if scope.last is not None and scope.last.outcome == "out of service":
                bench.must("return-checked", tag, leak_test="pass", inspection="pass")
            bench.receive(tag, precleaned=chance.choice(("yes", "no")))
        elif cycle.hold is not None and chance.random() < 0.5:
            decision = chance.choice(("continue", "clean-again", "disinfect-again", "out-of-service"))
            bench.give("decide", tag, decision=decision, reason="by the IFU", soak_s_max=3600)
        elif chance.random() < 0.2:
            chance.choice(odd)(tag)
        elif chance.random() < 0.01:
            how = chance.choice(({"do": "void"}, {"do": "out-of-service", "owner": "desk"}))
            bench.give(subject=tag, reason="-", **how)
        elif cycle.hold is None:
            bench.go(tag)
    return bench


def ended(bench: Bench) -> list[list[Event]]:
    cycles = [e.id if e.kind == "receive" else e.refs["cycle"] for e in bench.events if e.data.get("ends")]
    return [own_events(bench, cycle) for cycle in cycles]


@pytest.mark.parametrize("seed", range(8))
def test_any_way_a_cycle_goes(seed: int) -> None:
    bench = walk(seed)
    pours = {e.id: e for e in bench.events if e.kind == "pour-bath"}
    found = ended(bench)
    assert found
    documents = [{"week": "2026-W48", **summarise(events, "UTC", pours)} for events in found]
    for events, document in zip(found, documents, strict=True):
        undone = {e.data["undoes"] for e in events if e.kind == "undo"}
        live = [e for e in events if e.seq not in undone]
        assert [e["seq"] for e in document["events"]] == [e.seq for e in events]
        assert sum(b["passes"] for b in document["brushing"]) == sum(e.kind == "pass" for e in live)
        counted = [*document["flushes"], *document["rinses"], *document["alcohol"]]
        assert sum(c["count"] for c in counted) == sum(e.kind == "count" for e in live)
        soaks = [*document["disinfection"]["soaks"], *document["detergent"]["soaks"]]
        assert len(soaks) == sum(e.kind == "start" and "soak" in e.data for e in live)
        assert sum(s["result"] not in (None, "interrupted") for s in soaks) == sum(e.kind == "lift" for e in live)
        assert len(document["taken_back"]) == len(undone)
        assert document["outcome"]["outcome"] in ("completed", "voided", "out of service")
        assert document["outcome"]["disinfected"] or document["outcome"]["outcome"] != "completed"
    content = table(CYCLE_COLUMNS, map(CycleRow, documents)).decode("utf-8-sig")
    cells = list(csv.reader(io.StringIO(content, newline=""), strict=True))
    assert {len(line) for line in cells} == {len(CYCLE_COLUMNS)} and len(cells) == len(documents) + 1
