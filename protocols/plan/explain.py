"""Why there is no plan: few tasks that already cannot be planned together."""

from protocols.pace import Pace

from .meter import Meter
from .model import Problem
from .moves import components
from .network import Network, Unmeetable, build
from .run import Run


def overfull(problem: Problem) -> str | None:
    """The id of the first task that alone holds more of a resource than there is."""
    return next(
        (
            task.id
            for task in problem.tasks
            if task.duration_s and any(units > problem.capacity[name] for name, units in task.uses.items())
        ),
        None,
    )


def hopeless_group(problem: Problem, net: Network, nodes: int, pace: Pace) -> list[int]:
    """The numbers of tasks tied by lags that are proven to have no plan by themselves; empty when none are.

    Tasks that no lag ties can wait until all others are over, so that what has no plan lies within one such group,
    and only hard maximums can be why. Each group gets its share of `nodes`.
    """
    group = components(net)
    doubtful = sorted({group[a] for a, _, _, hard in net.limits if hard})
    for g in doubtful:
        tied = [k for k in range(net.n) if group[k] == g]
        if _impossible(problem, tied, Meter(nodes // len(doubtful), pace)):
            return tied
    return []


def conflict(problem: Problem, kept: list[int], nodes: int, pace: Pace) -> tuple[str, ...]:
    """The ids of tasks that conflict among themselves by their own lags and uses, given that those at `kept` do.

    Tasks are left out one by one for as long as the rest still has no plan. When every try is decided within its
    share of `nodes`, no task of the answer could be left out.
    """
    share = max(200, nodes // len(kept))
    for k in list(kept):
        fewer = [j for j in kept if j != k]
        if _impossible(problem, fewer, Meter(share, pace)):
            kept = fewer
    return tuple(problem.tasks[k].id for k in kept)


def _impossible(problem: Problem, kept: list[int], meter: Meter) -> bool:
    """Whether it is proven within the meter that these tasks alone have no plan, however late."""
    try:
        net = build(problem, kept)
    except Unmeetable:
        return True
    return Run(net, meter, any_plan=True).go()
