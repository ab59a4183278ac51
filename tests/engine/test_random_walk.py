"""Anything in any order: no crash, no short contact, no shared strip, and no completed cycle that left a step out."""

from __future__ import annotations

import json
from contextlib import suppress
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from walker import Walker

from protocols.clock import parse_wall
from protocols.commands import SPECS, check
from protocols.errors import CommandFault
from protocols.event import Command, Event
from protocols.model import Protocol
from protocols.plain import from_plain, to_plain
from protocols.unit import Unit

WALKS = range(24)
STEPS = 400


@cache
def walked(seed: int) -> Walker:
    walker = Walker(seed)
    walker.walk(STEPS)
    return walker


def effective(events: list[Event]) -> list[Event]:
    """The events that still count: without what was undone, and without the undoing."""
    undone = {e.data["undoes"] for e in events if e.kind == "undo"}
    return [e for e in events if e.kind != "undo" and e.seq not in undone]


def left_out(events: list[Event], protocol: Protocol) -> set[str]:
    """The steps of its path that a completed cycle never ended, counted from the last time it was sent back."""
    place, done, flags = protocol.positions, set(), set(events[0].data["flags"])
    delayed = bool(events[0].data["marks"]["delayed"])
    soaked = False
    for event in events[1:]:
        flags = set(event.data.get("flags", flags))
        delayed = delayed or bool(event.data.get("marks", {}).get("delayed"))
        if "to" not in event.data:
            continue
        here, to = event.data["step"], event.data["to"]
        if event.kind in ("choose", "decide", "correct") or (to and place[to] <= place[here]):
            done -= {step for step in done if place[step] >= place[to]}
        else:
            done.add(here)
            soaked = soaked or protocol.step(here).when == "delayed"
    missing = {step.id for step in protocol.order(frozenset(flags - {"delayed"}))} - done
    return missing | ({"extended soak"} if delayed and not soaked else set())


@pytest.mark.parametrize("seed", WALKS)
def test_walk(seed: int) -> None:
    bench = walked(seed).bench
    assert bench.replayed() == bench.unit
    assert from_plain(Unit, json.loads(json.dumps(to_plain(bench.unit)))) == bench.unit
    by_cycle: dict[str, list[Event]] = {}
    for event in bench.events:
        if event.kind == "receive":
            by_cycle[event.id] = [event]
        elif event.refs.get("cycle") in by_cycle:
            by_cycle[event.refs["cycle"]].append(event)
    for cycle, events in by_cycle.items():
        counted = effective(events)
        if any(e.data.get("ends") == "completed" for e in counted):
            protocol = bench.shelf.protocol(events[0].data["text_sha256"])
            assert left_out([e for e in counted if "step" in e.data or e.kind == "receive"], protocol) == set(), cycle
        _no_bath_after_a_leak(counted)


def _no_bath_after_a_leak(events: list[Event]) -> None:
    leaking = False
    for event in events:
        flags = event.data.get("flags")
        leaking = "leak" in flags if flags is not None else leaking
        assert not (leaking and "bath" in event.refs and event.kind in ("look", "start"))


def test_the_walks_meet_what_they_are_meant_to_meet() -> None:
    walkers = [walked(seed) for seed in WALKS]
    ends = [end for walker in walkers for end in walker.ends]
    assert set(ends) == {"completed", "voided", "out of service", "undone"} and ends.count("completed") >= 30
    assert len({key for walker in walkers for key in walker.refusals}) >= 35
    results = {e.data["result"] for walker in walkers for e in walker.bench.events if e.kind == "lift"}
    assert results >= {"full", "late", "early", "unproven"}
    assert sum(walker.restarts for walker in walkers) >= 10


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=5,
)


@given(st.data())
def test_values_of_any_shape_are_checked_or_a_fault(data: st.DataObject) -> None:
    do = data.draw(st.sampled_from(sorted(SPECS)))
    names = st.sampled_from(sorted(SPECS[do].values) or ["x"]) | st.text(max_size=5)
    values = data.draw(st.dictionaries(names, JSON, max_size=4))
    with suppress(CommandFault):
        check(Command(do, data.draw(st.text(max_size=9)), values, data.draw(st.just("ann") | st.text(max_size=9))))


@given(
    st.from_regex(
        r"[0-9]{4}-[01][0-9]-[0-3][0-9][Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,12})?([Zz]|[+-][0-9]{2}:[0-9]{2})",
        fullmatch=True,
    )
)
def test_a_time_is_read_or_a_fault(text: str) -> None:
    with suppress(CommandFault):
        assert isinstance(parse_wall(text), int)
