"""The planner on 200 generated benches beside CP-SAT, printed as a table. By hand: python -m tests.bench.bench_plan

Arguments: how many benches (200), seconds for CP-SAT on each (10), and a file in which its answers are kept from one
run to the next. Times are processor times of one core, so that a busy machine does not blur them; wall times are
printed beside.
"""

import json
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

from protocols.plan import Plan, budget_nodes, read_problem, solve, write_result
from tests.plan.benches import generate
from tests.plan.reference import Reference, reference
from tests.plan.small import broken_rules

QUICK_S, LONG_S = 0.05, 2.0


class Timed(NamedTuple):
    """A plan with the processor and wall seconds it took."""

    plan: Plan
    used_s: float
    wall_s: float


def timed(problem: dict[str, Any], budget_s: float) -> Timed:
    """The plan with its processor and wall seconds, reading included; refuses a plan that breaks a rule."""
    wall, used = time.perf_counter(), time.process_time()
    result = solve(read_problem(problem), budget_nodes(budget_s))
    used, wall = time.process_time() - used, time.perf_counter() - wall
    if not isinstance(result, Plan):
        raise SystemExit(f"no plan: {result}")
    broken = broken_rules(problem, write_result(result))
    if broken:
        raise SystemExit(f"rules broken: {broken}")
    return Timed(result, used, wall)


def share(values: list[bool]) -> str:
    return f"{sum(values)} of {len(values)} ({100 * sum(values) / max(1, len(values)):.1f} %)"


def spread(seconds: list[float]) -> str:
    ranked = sorted(seconds)
    return f"p50 {ranked[len(ranked) // 2]:.3f}  p95 {ranked[int(len(ranked) * 0.95)]:.3f}  max {ranked[-1]:.3f} s"


def within(late: int, other: Reference, part: float) -> bool:
    return late <= other.late_total_s + max(part * other.late_total_s, 5)


class References:
    """What CP-SAT says of each bench, kept in a file when one is given."""

    def __init__(self, limit_s: float, file: str = "") -> None:
        self.limit_s, self.file = limit_s, Path(file) if file else None
        there = self.file is not None and self.file.exists()
        self.kept: dict[str, Any] = json.loads(self.file.read_text("utf-8")) if there and self.file else {}

    def of(self, seed: int, problem: dict[str, Any]) -> Reference:
        if str(seed) not in self.kept:
            self.kept[str(seed)] = list(reference(problem, self.limit_s))
            if self.file is not None:
                self.file.write_text(json.dumps(self.kept), "utf-8")
        return Reference(*self.kept[str(seed)])


class Bench(NamedTuple):
    """One bench: how many scopes, the short and the long plan, and what CP-SAT says."""

    seed: int
    scopes: int
    quick: Timed
    long: Timed
    peer: Reference

    @property
    def part(self) -> float:
        """How far above CP-SAT's lateness the long plan may be."""
        return 0.01 if self.peer.status == "OPTIMAL" else 0.05


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    references = References(float(sys.argv[2]) if len(sys.argv) > 2 else 10.0, *sys.argv[3:4])
    rows: list[Bench] = []
    for seed in range(count):
        problem = generate(seed)
        scopes = len({task["scope"] for task in problem["tasks"]})
        peer = references.of(seed, problem)
        rows.append(Bench(seed, scopes, timed(problem, QUICK_S), timed(problem, LONG_S), peer))
        print(f"\r{seed + 1} of {count}", end="", file=sys.stderr)
    print(file=sys.stderr)
    told(rows, [timed(generate(seed, 8, 10), QUICK_S) for seed in range(1000, 1020)], references.limit_s)
    for row in rows:
        sure = row.long.plan.late_proven and row.peer.status == "OPTIMAL"
        if sure and row.long.plan.late_total_s != row.peer.late_total_s:
            raise SystemExit(f"two proofs that differ: {row.long.plan} and {row.peer}")


def told(rows: list[Bench], eight: list[Timed], limit_s: float) -> None:
    """Print the table; no rule was broken, or there would be none."""
    sure = [row for row in rows if row.peer.status == "OPTIMAL"]
    rest = [row for row in rows if row.peer.status == "FEASIBLE"]
    few = [row for row in rows if row.scopes <= 5]
    quick, long = [row.quick for row in rows] + eight, [row.long for row in rows]
    print(f"| {len(rows)} benches, no rule broken; CP-SAT {limit_s:g} s proves {len(sure)} | |\n|---|---|")
    lines = {
        f"{LONG_S:g} s: at most max(1 %, 5 s) later, where CP-SAT proves its plan": share(
            [within(row.long.plan.late_total_s, row.peer, 0.01) for row in sure]
        ),
        f"{LONG_S:g} s: at most 5 % later elsewhere": share(
            [within(row.long.plan.late_total_s, row.peer, 0.05) for row in rest]
        ),
        f"{LONG_S:g} s: less late than CP-SAT": share(
            [row.long.plan.late_total_s < row.peer.late_total_s for row in rows]
        ),
        f"{QUICK_S:g} s: at most 10 % later": share(
            [within(row.quick.plan.late_total_s, row.peer, 0.1) for row in rows]
        ),
        "up to 5 scopes: proven least late and soonest done": share([row.long.plan.proven for row in few]),
        "up to 5 scopes: proven least late": share([row.long.plan.late_proven for row in few]),
        "all: proven least late": share([row.long.plan.late_proven for row in rows]),
        f"{QUICK_S:g} s, processor": spread([one.used_s for one in quick]),
        f"{QUICK_S:g} s, wall": spread([one.wall_s for one in quick]),
        f"{LONG_S:g} s, processor": spread([one.used_s for one in long]),
    }
    for what, value in lines.items():
        print(f"| {what} | {value} |")
    late = [row for row in rows if not within(row.long.plan.late_total_s, row.peer, row.part)]
    shown = (f"{row.seed} ({row.long.plan.late_total_s} s, CP-SAT {row.peer.late_total_s} s)" for row in late)
    print("later than that:", ", ".join(shown) or "none")


if __name__ == "__main__":
    main()
