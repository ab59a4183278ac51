"""Who does what when with scarce hands, sinks, baths and ports: an exact planner that always has its best so far.

`solve` is deterministic: its budget is counted in nodes. It advises; people decide.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .model import Infeasible, Lag, Plan, PlanFault, Problem, Task

if TYPE_CHECKING:
    from .search import solve
    from .wire import budget_nodes, read_budget_s, read_problem, safety_stop_s, write_result

__all__ = [
    "Infeasible",
    "Lag",
    "Plan",
    "PlanFault",
    "Problem",
    "Task",
    "budget_nodes",
    "read_budget_s",
    "read_problem",
    "safety_stop_s",
    "solve",
    "write_result",
]


def __getattr__(name: str) -> Any:
    """Promise what is loaded when first asked for: the solver and its wire, which the first page can do without."""
    if name not in __all__:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    found = getattr(import_module(".search" if name == "solve" else ".wire", __name__), name)
    globals()[name] = found
    return found
