"""Why there is no plan: few tasks that already cannot be planned together."""

from protocols.pace import Pace

from .meter import Meter
from .model import Problem
from .network import Unmeetable, build
from .run import Run


def overfull(problem: Problem) -> str | None:
    """The id of the first task that alone holds more of a resource than there is."""
    for task in problem.tasks:
        for name in sorted(task.uses):
            if task.duration_s and task.uses[name] > problem.capacity[name]:
                return task.id
    return None


def conflict(problem: Problem, kept: list[int], nodes: int, pace: Pace) -> tuple[str, ...]:
    """The ids of tasks that conflict among themselves by their own lags and uses, given that those at `kept` do.

    Tasks are left out one by one for as long as the rest still has no plan. When every try is decided within its
    share of `nodes`, no task of the answer could be left out.
    """
    share = max(200, nodes // max(1, len(kept)))
    for k in list(kept):
        fewer = [j for j in kept if j != k]
        if fewer and _impossible(problem, fewer, Meter(share, pace)):
            kept = fewer
    return tuple(problem.tasks[k].id for k in kept)


def _impossible(problem: Problem, kept: list[int], meter: Meter) -> bool:
    """Whether it is proven within the meter that these tasks alone have no plan, however late."""
    try:
        net = build(problem, kept)
    except Unmeetable:
        return True
    net.due = [None] * net.n
    net.soft = []
    net.limits = [limit for limit in net.limits if limit[3]]
    return Run(net, meter, any_plan=True).go()
