"""The same scheduling problem written for CP-SAT (ortools), as an outside check of the planner."""

from typing import Any, NamedTuple

from ortools.sat.python import cp_model


class Reference(NamedTuple):
    """What CP-SAT says: status OPTIMAL, FEASIBLE, INFEASIBLE or UNKNOWN; lateness, its bound and the finish."""

    status: str
    late_total_s: int
    bound_s: int
    finish_s: int


def reference(problem: dict[str, Any], limit_s: float, with_finish: bool = False) -> Reference:
    """Least total lateness by CP-SAT on one thread; with `with_finish` also the least finish at that lateness."""
    model = cp_model.CpModel()
    tasks = problem["tasks"]
    horizon = (
        max((t["earliest_s"] for t in tasks), default=0)
        + sum(t["duration_s"] for t in tasks)
        + sum(max(0, abs(lag["min_s"])) for lag in problem["lags"])
    )
    start = {t["id"]: model.new_int_var(t["earliest_s"], horizon, t["id"]) for t in tasks}
    spans = {t["id"]: model.new_fixed_size_interval_var(start[t["id"]], t["duration_s"], t["id"]) for t in tasks}
    for resource, units in problem["capacity"].items():
        users = [t for t in tasks if t["uses"].get(resource, 0) and t["duration_s"]]
        if all(2 * t["uses"][resource] > units for t in users):
            model.add_no_overlap([spans[t["id"]] for t in users])
        else:
            model.add_cumulative([spans[t["id"]] for t in users], [t["uses"][resource] for t in users], units)
    late = []
    for lag in problem["lags"]:
        gap = start[lag["to"]] - start[lag["from"]]
        model.add(gap >= lag["min_s"])
        if lag["max_s"] is not None and lag["hard"]:
            model.add(gap <= lag["max_s"])
        elif lag["max_s"] is not None:
            excess = model.new_int_var(0, 2 * horizon, "")
            model.add(excess >= gap - lag["max_s"])
            late.append(excess)
    for t in tasks:
        if t["due_s"] is not None:
            excess = model.new_int_var(0, 2 * horizon, "")
            model.add(excess >= start[t["id"]] + t["duration_s"] - t["due_s"])
            late.append(excess)
    finish = model.new_int_var(0, 2 * horizon, "finish")
    for t in tasks:
        model.add(finish >= start[t["id"]] + t["duration_s"])
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.random_seed = 1
    total = sum(late)
    model.minimize(total if late else finish)
    status = solver.solve(model)
    name = solver.status_name(status)
    if name not in ("OPTIMAL", "FEASIBLE"):
        return Reference(name, 0, 0, 0)
    if not late:
        return Reference(name, 0, 0, round(solver.objective_value))
    least, bound = round(solver.objective_value), round(solver.best_objective_bound)
    best_finish = solver.value(finish)
    if with_finish and name == "OPTIMAL":
        model.add(total <= least)
        model.minimize(finish)
        name = solver.status_name(solver.solve(model))
        best_finish = solver.value(finish)
    return Reference(name, least, bound, best_finish)
