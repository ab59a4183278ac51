"""The planner's door: a problem and a budget in, a plan or the proof that there is none out."""

from protocols.pace import Pace, freely

from .explain import conflict, hopeless_group, overfull
from .meter import Meter
from .model import Infeasible, Plan, Problem
from .network import Unmeetable, build
from .run import Run


def solve(
    problem: Problem,
    nodes: int,
    pace: Pace = freely,
) -> Plan | Infeasible:
    """The least late plan found within `nodes`, then the earliest finish; or Infeasible with the tasks that clash.

    The same problem and `nodes` give the same answer, unless `pace` says first to stop: then the run stops where it
    is and the answer says `stopped`. The first orders are always tried, so a little more than a
    very small budget may be spent. Without hard maximums and within capacities there is always a plan.
    """
    meter = Meter(nodes, pace)
    ids = [task.id for task in problem.tasks]
    over = overfull(problem)
    if over:
        return Infeasible((over,), True)
    try:
        net = build(problem)
    except Unmeetable as clash:
        return Infeasible(conflict(problem, clash.tasks, nodes, pace), True)
    run = Run(net, meter)
    empty = run.go()
    if run.best is not None:
        return _plan(run, ids)
    kept = hopeless_group(problem, net, nodes, pace) or (list(range(net.n)) if empty else [])
    if kept:
        return Infeasible(conflict(problem, kept, nodes, pace), True, meter.spent, meter.stopped)
    bound = {k for a, b, _, hard in net.limits if hard for k in (a, b)}
    return Infeasible(tuple(ids[k] for k in sorted(bound)), False, meter.spent, meter.stopped)


def _plan(run: Run, ids: list[str]) -> Plan:
    """The best starts of a run with what each task is late."""
    net, starts = run.net, run.starts
    late = dict.fromkeys(ids, 0)
    for k, due in enumerate(net.due):
        if due is not None:
            late[ids[k]] += max(0, starts[k] + net.duration[k] - due)
    for a, b, m in net.soft:
        late[ids[b]] += max(0, starts[b] - starts[a] - m)
    total = sum(late.values())
    finish = max((s + d for s, d in zip(starts, net.duration, strict=True)), default=0)
    bound = run.finish_bound if run.free[0] < total else max(run.finish_bound, run.free[1])
    return Plan(
        starts_s=dict(zip(ids, starts, strict=True)),
        late_s=late,
        finish_s=finish,
        late_total_s=total,
        bound_s=min(run.late_bound, total),
        proven=run.done(),
        late_proven=run.late_bound >= total,
        finish_bound_s=finish if run.done() else min(bound, finish),
        nodes=run.meter.spent,
        stopped=run.meter.stopped,
    )
