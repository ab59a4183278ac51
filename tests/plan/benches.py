"""Seeded benches for the planner: reprocessing-like chains from slack to badly overloaded.

Every figure here is invented. The shape (leak test, brush, detergent soak, flush, rinse, disinfectant soak, final
rinse, alcohol flush, drying, hanging) follows common practice, no source.
"""

import random
from itertools import pairwise
from typing import Any

# name, shortest and longest length in seconds, what it holds besides time
_STEPS: tuple[tuple[str, int, int, tuple[str, ...]], ...] = (
    ("leak_test", 60, 180, ("hands", "sinks")),
    ("brush", 240, 720, ("hands", "sinks")),
    ("detergent_soak", 120, 300, ("detergent_baths",)),
    ("flush", 60, 180, ("hands", "sinks")),
    ("rinse", 60, 120, ("hands", "sinks")),
    ("glove_change", 45, 90, ("hands",)),
    ("disinfectant_soak", 300, 1200, ("disinfectant_baths",)),
    ("final_rinse", 60, 240, ("hands", "clean_sinks")),
    ("dry", 600, 900, ("ports",)),
    ("hang", 60, 120, ("hands",)),
)
_SOAKS = ("detergent_soak", "disinfectant_soak", "dry")
_LOADS = ("slack", "busy", "full", "overloaded")


def _scope(rng: random.Random, name: str, steps: int, grid: int) -> list[dict[str, Any]]:
    """One scope's chain: `steps` of the ten steps, in order, always with the disinfectant soak and its rinse."""
    keep = {4, 6, 7}
    others = [k for k in range(len(_STEPS)) if k not in keep]
    rng.shuffle(others)
    keep.update(others[: max(0, steps - len(keep))])
    chain = []
    for k in sorted(keep):
        step, low, high, held = _STEPS[k]
        length = rng.randrange(low // grid, high // grid + 1) * grid
        chain.append(
            {
                "id": f"{name}.{step}",
                "scope": name,
                "duration_s": length,
                "uses": dict.fromkeys(held, 1),
                "earliest_s": 0,
                "due_s": None,
            }
        )
    return chain


def _chain_lags(rng: random.Random, chain: list[dict[str, Any]], hard_share: float) -> list[dict[str, Any]]:
    """Each step starts after the last one ends; soaks have a longest length, and some gaps a limit."""
    lags = []
    for before, after in pairwise(chain):
        length = before["duration_s"]
        soak = before["id"].split(".")[1] in _SOAKS
        limit: int | None = None
        hard = False
        if soak and rng.random() < 0.8:
            limit = length + rng.choice((60, 120, 300, 600))
            hard = rng.random() < hard_share
        elif not soak and rng.random() < 0.25:
            limit = length + rng.choice((300, 600, 900))
        lags.append({"from": before["id"], "to": after["id"], "min_s": length, "max_s": limit, "hard": hard})
    return lags


def generate(seed: int, scopes: int | None = None, steps: int | None = None) -> dict[str, Any]:
    """A problem as the command line reads it, the same for the same seed.

    `scopes` 1 to 8 and `steps` 3 to 10 a scope are drawn when not given, so the largest bench has 80 tasks.
    """
    rng = random.Random(f"bench {seed}")
    count = scopes if scopes is not None else rng.randint(2, 8)
    load = _LOADS[seed % len(_LOADS)]
    grid = rng.choice((1, 5, 15, 60))
    hands = rng.choice((1, 1, 1, 2))
    capacity = {
        "hands": hands,
        "sinks": rng.choice((1, 2)),
        "detergent_baths": rng.choice((1, 2)),
        "disinfectant_baths": rng.choice((1, 1, 2)),
        "clean_sinks": 1,
        "ports": rng.choice((1, 2, 4)),
    }
    spread = {"slack": 1500, "busy": 900, "full": 500, "overloaded": 120}[load]
    ease = {"slack": 2.2, "busy": 1.5, "full": 1.2, "overloaded": 0.9}[load]
    tasks: list[dict[str, Any]] = []
    lags: list[dict[str, Any]] = []
    arrival = 0
    for index in range(count):
        chain = _scope(rng, f"S{index + 1}", steps if steps is not None else rng.randint(6, 10), grid)
        # some scopes are already under way: their first steps lie behind us
        if steps is None and rng.random() < 0.25:
            chain = chain[rng.randrange(0, len(chain) - 2) :]
        lags.extend(_chain_lags(rng, chain, 0.15))
        for task in chain:
            task["earliest_s"] = arrival
        length = sum(task["duration_s"] for task in chain)
        if rng.random() < 0.8:
            chain[-1]["due_s"] = arrival + int(length * (ease + rng.random() * 0.6)) // grid * grid
        if rng.random() < 0.6:
            chain[0]["due_s"] = arrival + rng.choice((900, 1800, 3600)) + chain[0]["duration_s"]
        tasks.extend(chain)
        arrival += rng.randrange(0, spread * 2 // grid + 1) * grid // hands
    return {"tasks": tasks, "lags": lags, "capacity": capacity, "budget_s": 2}
