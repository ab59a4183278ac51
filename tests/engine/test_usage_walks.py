"""No path leads from a failed, held or unfinished cycle to issue, and a scope is in exactly one place: random walks."""

from __future__ import annotations

import json
from functools import cache

import pytest
from usage_walk import UsageWalk, small_shelf

from protocols.plain import from_plain, to_plain
from protocols.unit import Unit
from protocols.whereabouts import Place

WALKS, STEPS = range(20), 250


@cache
def walked(seed: int) -> UsageWalk:
    walk = UsageWalk(seed, shelf())
    walk.walk(STEPS)
    return walk


shelf = cache(small_shelf)


@pytest.mark.parametrize("seed", WALKS)
def test_walk(seed: int) -> None:
    bench = walked(seed).bench
    assert bench.replayed() == bench.unit
    assert from_plain(Unit, json.loads(json.dumps(to_plain(bench.unit)))) == bench.unit


def test_the_walks_meet_what_they_are_meant_to_meet() -> None:
    walks = [walked(seed) for seed in WALKS]
    assert sum(walk.issues for walk in walks) >= 20
    assert sum(walk.corrected for walk in walks) >= 4
    assert set().union(*(walk.places for walk in walks)) == set(Place) - {Place.ELSEWHERE}
    assert set().union(*(walk.refused for walk in walks)) >= {
        "not-issuable", "not-released", "hang-over", "in-cycle", "away", "not-decontaminated", "fault-open",
    }  # fmt: skip
