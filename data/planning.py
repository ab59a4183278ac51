"""A planning problem from a file's bytes to its answer, for the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from protocols.plan import PlanFault, budget_nodes, read_budget_s, read_problem, safety_stop_s, solve, write_result

# Some thousand tasks; a bench of a day has some hundred.
BYTES_MAX = 4_000_000


def answer(content: bytes, elapsed_s: Callable[[], float]) -> dict[str, Any]:
    """Promise the plan, or why there is none, of a problem in JSON.

    `elapsed_s` gives the seconds since the start, for the safety stop only. Raises PlanFault for anything else than a
    problem, naming the place and what to do.
    """
    if len(content) > BYTES_MAX:
        raise PlanFault(f"the file has {len(content)} bytes, at most {BYTES_MAX} are read; plan fewer tasks at once")
    try:
        problem = json.loads(content.decode("utf-8"), object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise PlanFault(f"the file is not JSON ({error}); write one object with tasks, lags and capacity") from error
    budget_s = read_budget_s(problem)
    stop_s = safety_stop_s(budget_s)
    result = solve(read_problem(problem), budget_nodes(budget_s), lambda: elapsed_s() >= stop_s)
    return write_result(result)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise PlanFault("a member is given twice; give each once")
    return found
