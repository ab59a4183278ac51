"""Small seeded problems of every kind the planner reads, and a check that a plan breaks no rule."""

import random
from typing import Any


def small(seed: int) -> dict[str, Any]:
    """Up to nine tasks, several resources of several units, hard and soft lags, some of them impossible."""
    rng = random.Random(f"small {seed}")
    count = rng.randint(2, 9)
    capacity = {name: rng.randint(1, 3) for name in ("hands", "sinks", "baths")[: rng.randint(1, 3)]}
    tasks = []
    for k in range(count):
        uses = {name: rng.randint(1, units) for name, units in capacity.items() if rng.random() < 0.6}
        tasks.append(
            {
                "id": f"t{k}",
                "scope": f"s{k % 3}",
                "duration_s": rng.choice((0, 1, 2, 3, 4, 5, 7, 9)),
                "uses": uses,
                "earliest_s": rng.choice((0, 0, 0, 2, 5)),
                "due_s": rng.randint(3, 25) if rng.random() < 0.4 else None,
            }
        )
    lags = []
    for _ in range(rng.randint(0, count + 3)):
        a, b = rng.sample(range(count), 2)
        if a > b and rng.random() < 0.8:
            a, b = b, a
        low = rng.randint(-4, 8)
        high = low + rng.randint(-1, 8) if rng.random() < 0.6 else None
        lags.append({"from": f"t{a}", "to": f"t{b}", "min_s": low, "max_s": high, "hard": rng.random() < 0.4})
    return {"tasks": tasks, "lags": lags, "capacity": capacity, "budget_s": 2}


def tight(seed: int) -> dict[str, Any]:
    """Small problems side by side on the same resources, two for odd seeds, every maximum hard: few have a plan."""
    problem = small(seed)
    tasks, lags, capacity = problem["tasks"], problem["lags"], problem["capacity"]
    if seed % 2:
        other = small(seed + 50_000)
        for task in other["tasks"]:
            uses = {name: min(units, capacity[name]) for name, units in task["uses"].items() if name in capacity}
            tasks.append({**task, "id": f"u{task['id']}", "uses": uses})
        lags += [{**lag, "from": f"u{lag['from']}", "to": f"u{lag['to']}"} for lag in other["lags"]]
    return {**problem, "lags": [{**lag, "hard": lag["max_s"] is not None} for lag in lags]}


def broken_rules(problem: dict[str, Any], result: dict[str, Any]) -> list[str]:
    """Every rule a written plan breaks, and every figure in it that does not add up."""
    starts, found = result["starts_s"], []
    tasks = {task["id"]: task for task in problem["tasks"]}
    late = dict.fromkeys(tasks, 0)
    if set(starts) != set(tasks):
        return ["not every task has a start"]
    for name, task in tasks.items():
        if starts[name] < task.get("earliest_s", 0):
            found.append(f"{name} starts too early")
        if task.get("due_s") is not None:
            late[name] += max(0, starts[name] + task["duration_s"] - task["due_s"])
    for lag in problem["lags"]:
        gap = starts[lag["to"]] - starts[lag["from"]]
        if gap < lag["min_s"]:
            found.append(f"{lag} is too short")
        if lag.get("max_s") is not None and gap > lag["max_s"]:
            if lag["hard"]:
                found.append(f"{lag} is too long")
            late[lag["to"]] += gap - lag["max_s"]
    for resource, units in problem["capacity"].items():
        for moment in set(starts.values()):
            held = sum(
                task["uses"].get(resource, 0)
                for name, task in tasks.items()
                if starts[name] <= moment < starts[name] + task["duration_s"]
            )
            if held > units:
                found.append(f"{held} of {units} {resource} held at {moment}")
    finish = max((starts[name] + task["duration_s"] for name, task in tasks.items()), default=0)
    if result["late_s"] != late or result["late_total_s"] != sum(late.values()):
        found.append("lateness does not add up")
    if result["finish_s"] != finish:
        found.append("finish does not add up")
    if result["bound_s"] > result["late_total_s"]:
        found.append("the bound is above the plan")
    return found
