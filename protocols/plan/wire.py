"""Reads a planning problem from parsed JSON and writes the answer back, field by field."""

import math
from typing import Any

from .model import Infeasible, Lag, Plan, PlanFault, Problem, Task

# The budget is counted in nodes, so that a plan never depends on how busy the machine is. Over the benches whose budget
# ran out, one core of the class they were run on did so many in a second while its neighbours were busy.
NODES_PER_SECOND = 130_000
# Wall time only stops a run that takes this many times its budget.
SAFETY_FACTOR = 5
DEFAULT_BUDGET_S = 2.0

_PROBLEM_FIELDS = {"tasks", "lags", "capacity", "budget_s"}
_TASK_FIELDS = {"id", "scope", "duration_s", "uses", "earliest_s", "due_s"}
_LAG_FIELDS = {"from", "to", "min_s", "max_s", "hard"}


def read_problem(obj: object) -> Problem:
    """A checked Problem from parsed JSON, or PlanFault naming the field, its value and what to do."""
    top = _record(obj, "the problem", _PROBLEM_FIELDS)
    if "tasks" not in top:
        raise PlanFault("the problem has no 'tasks': give a list of tasks (it may be empty)")
    tasks = tuple(_task(entry, f"tasks[{k}]") for k, entry in enumerate(_list(top["tasks"], "tasks")))
    lags = tuple(_lag(entry, f"lags[{k}]") for k, entry in enumerate(_list(top.get("lags", []), "lags")))
    capacity = _units(top.get("capacity", {}), "capacity")
    return Problem(tasks, lags, capacity)


def read_budget_s(obj: object) -> float:
    """The wished seconds of planning, 2 when not given, or PlanFault when it is no number above 0."""
    top = _record(obj, "the problem", _PROBLEM_FIELDS)
    value = top.get("budget_s", DEFAULT_BUDGET_S)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value <= 0:
        raise PlanFault(f"budget_s is {value!r}: give a number of seconds above 0")
    return float(value)


def budget_nodes(budget_s: float) -> int:
    """How many nodes a budget in seconds buys, at the fixed rate NODES_PER_SECOND; at least 1."""
    return max(1, round(budget_s * NODES_PER_SECOND))


def safety_stop_s(budget_s: float) -> float:
    """The wall time after which a run is stopped whatever its nodes say: SAFETY_FACTOR times the budget."""
    return budget_s * SAFETY_FACTOR


def write_result(result: Plan | Infeasible) -> dict[str, Any]:
    """The answer as plain JSON values; starts and lateness keep the order of the tasks."""
    if isinstance(result, Infeasible):
        return {"infeasible": True, "proven": result.proven, "why": list(result.why)}
    return {
        "starts_s": dict(result.starts_s),
        "late_s": dict(result.late_s),
        "finish_s": result.finish_s,
        "late_total_s": result.late_total_s,
        "bound_s": result.bound_s,
        "proven": result.proven,
    }


def _task(obj: object, where: str) -> Task:
    entry = _record(obj, where, _TASK_FIELDS)
    name = _text(entry.get("id"), f"{where}.id")
    where = f"task {name!r}"
    if "duration_s" not in entry:
        raise PlanFault(f"{where} has no duration_s: give its length in whole seconds")
    scope = entry.get("scope")
    due = entry.get("due_s")
    return Task(
        id=name,
        duration_s=_whole(entry["duration_s"], f"{where}: duration_s"),
        scope="" if scope is None else _text(scope, f"{where}: scope", empty=True),
        uses=_units(entry.get("uses", {}), f"{where}: uses"),
        earliest_s=_whole(entry.get("earliest_s", 0), f"{where}: earliest_s"),
        due_s=None if due is None else _whole(due, f"{where}: due_s"),
    )


def _lag(obj: object, where: str) -> Lag:
    entry = _record(obj, where, _LAG_FIELDS)
    source, target = _text(entry.get("from"), f"{where}.from"), _text(entry.get("to"), f"{where}.to")
    where = f"lag {source!r} to {target!r}"
    longest, hard = entry.get("max_s"), entry.get("hard", False)
    if not isinstance(hard, bool):
        raise PlanFault(f"{where}: hard is {hard!r}: give true or false")
    return Lag(
        from_id=source,
        to_id=target,
        min_s=_whole(entry.get("min_s", 0), f"{where}: min_s"),
        max_s=None if longest is None else _whole(longest, f"{where}: max_s"),
        hard=hard,
    )


def _record(obj: object, where: str, fields: set[str]) -> dict[str, Any]:
    if not isinstance(obj, dict):
        raise PlanFault(f"{where} is {_short(obj)}: give an object with named fields")
    for name in obj:
        if name not in fields:
            raise PlanFault(f"{where} has the unknown field {name!r}: use only {', '.join(sorted(fields))}")
    return obj


def _list(obj: object, where: str) -> list[Any]:
    if not isinstance(obj, list):
        raise PlanFault(f"{where} is {_short(obj)}: give a list")
    return obj


def _text(obj: object, where: str, empty: bool = False) -> str:
    if not isinstance(obj, str) or (not obj and not empty):
        raise PlanFault(f"{where} is {_short(obj)}: give a text that is not empty")
    return obj


def _whole(obj: object, where: str) -> int:
    """A whole number of seconds or units; 12.0 counts, 12.5, true, text and NaN do not."""
    if isinstance(obj, float) and math.isfinite(obj) and obj == math.floor(obj):
        obj = int(obj)
    if isinstance(obj, bool) or not isinstance(obj, int):
        raise PlanFault(f"{where} is {_short(obj)}: give a whole number")
    if abs(obj) > 10**9:
        raise PlanFault(f"{where} is {obj}: give a number between -1000000000 and 1000000000")
    return obj


def _units(obj: object, where: str) -> dict[str, int]:
    if not isinstance(obj, dict):
        raise PlanFault(f"{where} is {_short(obj)}: give an object from resource name to units")
    return {_text(name, where): _whole(units, f"{where} {name!r}") for name, units in obj.items()}


def _short(obj: object) -> str:
    text = "missing" if obj is None else repr(obj)
    return text if len(text) <= 60 else text[:57] + "..."
