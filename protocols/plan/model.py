"""What the planner is asked and what it answers: tasks, lags, capacities; a plan, or the proof that there is none."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import TechnicianError


class PlanFault(TechnicianError):
    """A planning problem that cannot be read: names the task, lag or field, its value, and what to do."""


@dataclass(frozen=True, slots=True)
class Task:
    """One uninterrupted piece of work, `duration_s` whole seconds long.

    `uses` gives the units held of each resource from start to end; a task of no length holds nothing.
    It starts at `earliest_s` or later. `due_s`, when given, is when it should end: later is late, not forbidden.
    """

    id: str
    duration_s: int
    scope: str = ""
    uses: Mapping[str, int] = field(default_factory=dict)
    earliest_s: int = 0
    due_s: int | None = None


@dataclass(frozen=True, slots=True)
class Lag:
    """From the START of `from_id` to the START of `to_id`, in whole seconds.

    `min_s` is never broken and may be negative. `max_s` is never broken when `hard`; otherwise what goes past it
    counts as lateness of `to_id`. None means no maximum.
    """

    from_id: str
    to_id: str
    min_s: int = 0
    max_s: int | None = None
    hard: bool = False


@dataclass(frozen=True, slots=True)
class Problem:
    """Tasks, the lags between them and how many units of each resource there are; checked when made.

    Raises PlanFault for a doubled or unknown id, a negative length, use or capacity, or a resource nobody counted.
    """

    tasks: tuple[Task, ...]
    lags: tuple[Lag, ...] = ()
    capacity: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuses what cannot be planned at all."""
        seen: set[str] = set()
        for name, units in self.capacity.items():
            if units < 0:
                raise PlanFault(f"capacity {name!r} is {units}: give 0 or more units")
        for task in self.tasks:
            if task.id in seen:
                raise PlanFault(f"task id {task.id!r} is used twice: give every task its own id")
            seen.add(task.id)
            _check_task(task, self.capacity)
        for lag in self.lags:
            for side, name in (("from", lag.from_id), ("to", lag.to_id)):
                if name not in seen:
                    raise PlanFault(
                        f"lag {lag.from_id!r} to {lag.to_id!r}: no task has the id {name!r} given as"
                        f" {side!r}: add that task or correct the id"
                    )


def _check_task(task: Task, capacity: Mapping[str, int]) -> None:
    """Raises PlanFault when a task alone is nonsense."""
    if task.duration_s < 0:
        raise PlanFault(f"task {task.id!r}: duration_s is {task.duration_s}: give 0 or more seconds")
    for name, units in task.uses.items():
        if units < 0:
            raise PlanFault(f"task {task.id!r}: uses {name!r} is {units}: give 0 or more units")
        if name not in capacity:
            raise PlanFault(f"task {task.id!r} uses {name!r}, which capacity does not list: add {name!r} to capacity")


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan that breaks no rule: when each task starts and how late it is.

    `late_s` has every task: what its end goes past its due time plus what its start goes past soft maximums of
    lags that lead to it. `late_total_s` is the sum and `finish_s` the last end (0 without tasks).

    `bound_s` is a proven lower bound on `late_total_s`, whatever the finish; 0 when nothing can be late.
    `late_proven` says that no plan is less late. `proven` says more: among the least late plans none finishes
    sooner either. `finish_bound_s` is a proven lower bound on the finish of every plan as little late as this one.
    `nodes` is the budget spent; `stopped` says that its pace said to stop before, in which case a second
    run may give another plan.
    """

    starts_s: dict[str, int]
    late_s: dict[str, int]
    finish_s: int
    late_total_s: int
    bound_s: int
    proven: bool
    late_proven: bool
    finish_bound_s: int = 0
    nodes: int = 0
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Infeasible:
    """No plan: with `proven`, none exists and the tasks in `why` already conflict among themselves.

    Without `proven` the budget ran out before a plan or a proof was found; `why` then names the tasks bound by
    hard maximums, the only rules that can make planning hard in this way.
    """

    why: tuple[str, ...]
    proven: bool
    nodes: int = 0
    stopped: bool = False
