"""Who does what when with scarce hands, sinks, baths and ports: an exact planner that always has its best so far.

`solve` is deterministic: its budget is counted in nodes. It advises; people decide.
"""

from .model import Infeasible, Lag, Plan, PlanFault, Problem, Task
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
