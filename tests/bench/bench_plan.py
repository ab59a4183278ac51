"""The planner on 200 generated benches beside CP-SAT, printed as a table. By hand: python -m tests.bench.bench_plan

Arguments: how many benches (200), and seconds for CP-SAT on each (10). Times are processor times of one core, so that
a busy machine does not blur them; wall times are printed beside.
"""

import sys
import time
from typing import Any

from protocols.plan import Plan, budget_nodes, read_problem, solve, write_result
from tests.plan.benches import generate
from tests.plan.reference import Reference, reference
from tests.plan.small import broken_rules

QUICK_S, LONG_S = 0.05, 2.0


def timed(problem: dict[str, Any], budget_s: float) -> tuple[Plan, float, float]:
    """The plan with its processor and wall seconds, reading included; refuses a plan that breaks a rule."""
    wall, used = time.perf_counter(), time.process_time()
    result = solve(read_problem(problem), budget_nodes(budget_s))
    used, wall = time.process_time() - used, time.perf_counter() - wall
    if not isinstance(result, Plan):
        raise SystemExit(f"no plan: {result}")
    broken = broken_rules(problem, write_result(result))
    if broken:
        raise SystemExit(f"rules broken: {broken}")
    return result, used, wall


def share(values: list[bool]) -> str:
    return f"{sum(values)} of {len(values)} ({100 * sum(values) / max(1, len(values)):.1f} %)"


def spread(seconds: list[float]) -> str:
    ranked = sorted(seconds)
    return f"p50 {ranked[len(ranked) // 2]:.3f}  p95 {ranked[int(len(ranked) * 0.95)]:.3f}  max {ranked[-1]:.3f} s"


def within(late: int, other: Reference, part: float) -> bool:
    return late <= other.late_total_s + max(part * other.late_total_s, 5)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    limit_s = float(sys.argv[2]) if len(sys.argv) > 2 else 10.0
    rows = []
    for seed in range(count):
        problem = generate(seed)
        scopes = len({task["scope"] for task in problem["tasks"]})
        rows.append((scopes, timed(problem, QUICK_S), timed(problem, LONG_S), reference(problem, limit_s)))
        print(f"\r{seed + 1} of {count}", end="", file=sys.stderr)
    print(file=sys.stderr)
    eight = [row[1] for row in (*rows, *((8, timed(generate(s, 8, 10), QUICK_S)) for s in range(1000, 1020)))]
    sure = [row for row in rows if row[3].status == "OPTIMAL"]
    rest = [row for row in rows if row[3].status == "FEASIBLE"]
    few = [row for row in rows if row[0] <= 5]
    print(f"benches {len(rows)}, proven by CP-SAT in {limit_s:g} s: {share([r in sure for r in rows])}")
    print(f"budget {QUICK_S} s, processor: {spread([p[1] for p in eight])}; wall: {spread([p[2] for p in eight])}")
    print(f"budget {LONG_S} s, processor: {spread([r[2][1] for r in rows])}")
    print(
        "lateness within max(1 %, 5 s), where CP-SAT proves:",
        share([within(r[2][0].late_total_s, r[3], 0.01) for r in sure]),
    )
    print("lateness within 5 % elsewhere:", share([within(r[2][0].late_total_s, r[3], 0.05) for r in rest]))
    print("less late than CP-SAT:", share([r[2][0].late_total_s < r[3].late_total_s for r in rows]))
    print(f"plan of {QUICK_S} s within 10 %:", share([within(r[1][0].late_total_s, r[3], 0.1) for r in rows]))
    print("up to 5 scopes, proven least late and soonest done:", share([r[2][0].proven for r in few]))
    print("up to 5 scopes, proven least late:", share([r[2][0].late_proven for r in few]))
    print("all, proven least late:", share([r[2][0].late_proven for r in rows]))
    for r in rows:
        if r[2][0].late_proven and r[3].status == "OPTIMAL" and r[2][0].late_total_s != r[3].late_total_s:
            raise SystemExit(f"two proofs that differ: {r[2][0]} and {r[3]}")


if __name__ == "__main__":
    main()
