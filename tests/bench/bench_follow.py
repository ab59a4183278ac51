"""The same rehearsed shifts with and without following the plan, side by side. By hand:
python -m tests.bench.bench_follow [shifts] [scopes] [processes]

Scopes come in and the technician is called away at the same times either way; what scopes do after their first cycle
follows from when they were ready. Without the plan the technician turns to what is called, else to the scope that is
furthest on its way. Lates that no order avoids (end of the procedure unknown, come in too late) are counted apart.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Pool
from statistics import mean, quantiles

from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.tally import Tally
from protocols.survival import wilson

DELAY = "cleaned past the delay limit, or delay unknown"


@dataclass
class Side:
    """What one way of working came to over all shifts."""

    lates: Counter[str] = field(default_factory=Counter)
    prompts: Counter[str] = field(default_factory=Counter)
    turnaround_s: list[float] = field(default_factory=list)
    received: int = 0
    per_shift: list[int] = field(default_factory=list)
    done: list[int] = field(default_factory=list)

    def add(self, tally: Tally, unavoidable: int) -> None:
        late = Counter(tally.late)
        late[DELAY] -= unavoidable
        late["came in late or unknown (no order avoids it)"] += unavoidable
        self.lates.update(late)
        self.prompts.update(tally.prompts)
        self.turnaround_s += [t for times in tally.turnaround_s.values() for t in times]
        self.received += tally.received
        self.per_shift.append(sum(tally.late.values()) - unavoidable)
        self.done.append(tally.ended["completed"])


def shift(seed: int, scopes: int, follow: bool) -> tuple[Tally, int]:
    """One shift, and how many of its cleanings were late whatever the order."""
    door, tally = rehearse(MemoryDisk(), Plan(scopes, 8, seed, follow), lambda line: None)
    begun = {
        line["refs"]["cycle"] for line in door.journal.lines() if line["kind"] == "look" and line["data"].get("delayed")
    }
    unavoidable = 0
    for line in door.journal.lines():
        if line["kind"] != "receive" or f"{line['device']}-{line['seq']:06d}" not in begun:
            continue
        delay = line["data"].get("delay")
        unavoidable += delay is None or delay["already_s"] >= delay["max_s"]
    return tally, unavoidable


def both(which: tuple[int, int]) -> dict[bool, tuple[Tally, int]]:
    """The same shift either way; `which` is its seed and number of scopes."""
    return {follow: shift(*which, follow) for follow in (False, True)}


def main() -> None:
    shifts = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    scopes = int(sys.argv[2]) if len(sys.argv) > 2 else 6
    processes = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    sides = {False: Side(), True: Side()}
    with Pool(processes) as pool:
        for seed, pair in enumerate(pool.imap(both, ((seed, scopes) for seed in range(shifts)))):
            for follow, one in pair.items():
                sides[follow].add(*one)
            print(f"\r{seed + 1} of {shifts}", end="", file=sys.stderr)
    print(file=sys.stderr)
    without, with_plan = sides[False], sides[True]
    print(f"| {shifts} shifts of 8 h, {scopes} scopes, one technician | without the plan | following the plan |")
    print("|---|---|---|")
    for name in sorted({*without.lates, *with_plan.lates}):
        print(f"| lates: {name} | {without.lates[name]} | {with_plan.lates[name]} |")
    rows = {
        "calls, very late": lambda s: s.prompts["very late"],
        "cycles received, completed": lambda s: f"{s.received}, {sum(s.done)}",
        "turnaround, mean": lambda s: f"{mean(s.turnaround_s) / 60:.1f} min",
        "turnaround, half and nine of ten below": lambda s: " and ".join(
            f"{quantiles(s.turnaround_s, n=10)[k] / 60:.0f} min" for k in (4, 8)
        ),
    }
    for name, figure in rows.items():
        print(f"| {name} | {figure(without)} | {figure(with_plan)} |")
    pairs = list(zip(without.per_shift, with_plan.per_shift, strict=True))
    fewer, more = sum(a > b for a, b in pairs), sum(a < b for a, b in pairs)
    low, high = wilson(fewer, fewer + more)
    print(
        f"fewer avoidable lates with the plan in {fewer} shifts, more in {more}, the same in {shifts - fewer - more};"
    )
    better = f"{100 * fewer / max(1, fewer + more):.0f} % are better (95 %: {100 * low:.0f} to {100 * high:.0f} %)"
    print(f"of those that differ {better}")


if __name__ == "__main__":
    main()
