"""The planner beside CP-SAT: every 5th of 200 generated benches with 3 s for CP-SAT (--full: all, with 10 s).

What is proven is counted over all benches of up to 5 scopes either way.

Times are processor times of one core, so that a busy machine does not blur them. CP-SAT runs on one thread. Two proofs
that differ end the run.
"""

import time
from collections.abc import Iterator
from typing import Any, NamedTuple

from protocols.plan import Plan, budget_nodes, read_problem, solve, write_result
from tests.bench.rows import Row
from tests.plan.benches import generate
from tests.plan.reference import Reference, reference
from tests.plan.small import broken_rules

QUICK_S, LONG_S = 0.05, 2.0
SEEDS = 200


class Timed(NamedTuple):
    """A plan with the processor and wall seconds it took, and the rules it breaks."""

    plan: Plan
    used_s: float
    wall_s: float
    broken: list[str]


def timed(problem: dict[str, Any], budget_s: float) -> Timed:
    """The plan with its processor and wall seconds, reading included, and the rules it breaks."""
    wall, used = time.perf_counter(), time.process_time()
    result = solve(read_problem(problem), budget_nodes(budget_s))
    used, wall = time.process_time() - used, time.perf_counter() - wall
    if not isinstance(result, Plan):
        raise SystemExit(f"no plan: {result}")
    return Timed(result, used, wall, broken_rules(problem, write_result(result)))


def scopes_of(problem: dict[str, Any]) -> int:
    return len({task["scope"] for task in problem["tasks"]})


def within(late: int, other: Reference, part: float) -> bool:
    return late <= other.late_total_s + max(part * other.late_total_s, 5)


class Bench(NamedTuple):
    """One bench: the short and the long plan, and what CP-SAT says."""

    seed: int
    quick: Timed
    long: Timed
    peer: Reference

    @property
    def part(self) -> float:
        """How far above CP-SAT's lateness the long plan may be."""
        return 0.01 if self.peer.status == "OPTIMAL" else 0.05


def benches(seeds: range, limit_s: float) -> list[Bench]:
    """Promise each bench planned twice, and CP-SAT's answer. Raises SystemExit where two proofs differ."""
    found = []
    for seed in seeds:
        problem = generate(seed)
        peer = reference(problem, limit_s)
        one = Bench(seed, timed(problem, QUICK_S), timed(problem, LONG_S), peer)
        sure = one.long.plan.late_proven and peer.status == "OPTIMAL"
        if sure and one.long.plan.late_total_s != peer.late_total_s:
            raise SystemExit(f"two proofs that differ: {one.long.plan} and {peer}")
        found.append(one)
    return found


def share(what: str, values: list[bool], limit: float | None, ours: str = "") -> Row:
    """Promise the row of how many hold, in per cent."""
    text = f"{sum(values)} of {len(values)}" + (f"; {ours}" if ours else "")
    return Row(what, round(100 * sum(values) / max(1, len(values)), 1), limit, text, unit="%", at_least=True)


def rows(full: bool) -> Iterator[Row]:
    """Promise how near the long and the short plan come to CP-SAT, what is proven, and what the short one takes."""
    limit_s = 10.0 if full else 3.0
    # loads go round by fours: a step of 4 or 8 would leave only slack benches
    found = benches(range(0, SEEDS, 1 if full else 5), limit_s)
    sure = [one for one in found if one.peer.status == "OPTIMAL"]
    rest = [one for one in found if one.peer.status == "FEASIBLE"]
    known = {one.seed: one.long for one in found}
    few = [known.get(seed) or timed(generate(seed), LONG_S) for seed in range(SEEDS) if scopes_of(generate(seed)) <= 5]
    peer = f"CP-SAT with {limit_s:g} s"
    missed = ", ".join(str(one.seed) for one in found if not within(one.long.plan.late_total_s, one.peer, one.part))
    yield share(
        f"plan in {LONG_S:g} s, at most max(1 %, 5 s) later than {peer} where that proves its plan",
        [within(one.long.plan.late_total_s, one.peer, 0.01) for one in sure], 100,
        f"seeds that are not: {missed}" if missed else "",
    )  # fmt: skip
    if rest:
        yield share(f"plan in {LONG_S:g} s, at most 5 % later than {peer} elsewhere",
                    [within(one.long.plan.late_total_s, one.peer, 0.05) for one in rest], 100)  # fmt: skip
    yield share(f"plan in {1000 * QUICK_S:g} ms, at most 10 % later than {peer}",
                [within(one.quick.plan.late_total_s, one.peer, 0.1) for one in found], 100)  # fmt: skip
    yield share("plan of up to 5 scopes, proven least late and soonest done", [one.plan.proven for one in few], 90)
    eight = [timed(generate(seed, 8, 10), QUICK_S) for seed in range(1000, 1020)]
    plans = [*eight, *(one.quick for one in found), *(one.long for one in found)]
    broken = [rule for one in plans for rule in one.broken]
    yield Row("rules broken by plans", len(broken), 0, "; ".join(broken[:3]) or f"{len(plans)} plans", unit="rules")
    ranked = sorted([*(one.used_s for one in eight), *(one.quick.used_s for one in found)])
    yield Row(
        f"plan in {1000 * QUICK_S:g} ms, 8 scopes of 10 tasks among them: p95 of processor time",
        round(1000 * ranked[int(len(ranked) * 0.95)]),
        None,
        f"most {1000 * ranked[-1]:.0f} ms",
        unit="ms",
    )
