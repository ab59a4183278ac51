"""The same rehearsed shifts with and without following the plan, side by side. By hand:
python -m tests.bench.bench_follow [shifts] [scopes] [processes] [file]

With a file, the figures of each shift are kept there, so that a run that was broken off goes on where it ended.

Scopes come in and the technician is called away at the same times either way; what scopes do after their first cycle
follows from when they were ready. Without the plan the technician turns to what is called, else to the scope that is
furthest on its way. Lates that no order avoids (end of the procedure unknown, come in too late) are counted apart.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from dataclasses import dataclass, field
from multiprocessing import Pool
from pathlib import Path
from statistics import mean, quantiles
from typing import Any

from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.tally import Tally
from protocols.survival import wilson

DELAY = "cleaned past the delay limit, or delay unknown"


@dataclass
class Side:
    """What one way of working came to over all shifts."""

    lates: Counter[str] = field(default_factory=Counter)
    very_late: int = 0
    turnaround_s: list[float] = field(default_factory=list)
    received: int = 0
    per_shift: list[int] = field(default_factory=list)
    done: list[int] = field(default_factory=list)

    def add(self, one: dict[str, Any]) -> None:
        late = Counter(one["late"])
        late[DELAY] -= one["unavoidable"]
        late["came in late or unknown (no order avoids it)"] += one["unavoidable"]
        self.lates.update(late)
        self.very_late += one["very_late"]
        self.turnaround_s += one["turnaround_s"]
        self.received += one["received"]
        self.per_shift.append(sum(one["late"].values()) - one["unavoidable"])
        self.done.append(one["completed"])


def figures(seed: int, scopes: int, follow: bool) -> dict[str, Any]:
    """What one shift came to, as plain figures."""
    tally, unavoidable = shift(seed, scopes, follow)
    return {
        "late": dict(tally.late),
        "unavoidable": unavoidable,
        "very_late": tally.prompts["very late"],
        "turnaround_s": [t for times in tally.turnaround_s.values() for t in times],
        "received": tally.received,
        "completed": tally.ended["completed"],
    }


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


def both(which: tuple[int, int]) -> tuple[int, list[dict[str, Any]]]:
    """The same shift without and with the plan; `which` is its seed and number of scopes."""
    return which[0], [figures(*which, follow) for follow in (False, True)]


def main() -> None:
    shifts = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    scopes = int(sys.argv[2]) if len(sys.argv) > 2 else 6
    processes = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    file = Path(sys.argv[4]) if len(sys.argv) > 4 else None
    kept = json.loads(file.read_text("utf-8")) if file is not None and file.exists() else {}
    open_seeds = [(seed, scopes) for seed in range(shifts) if str(seed) not in kept]
    with Pool(processes) as pool:
        for seed, pair in pool.imap_unordered(both, open_seeds):
            kept[str(seed)] = pair
            if file is not None:
                file.write_text(json.dumps(kept), "utf-8")
            print(f"\r{len(kept)} of {shifts}", end="", file=sys.stderr)
    print(file=sys.stderr)
    sides = {False: Side(), True: Side()}
    for seed in range(shifts):
        for follow, one in zip((False, True), kept[str(seed)], strict=True):
            sides[follow].add(one)
    told(sides, shifts, scopes)


def told(sides: dict[bool, Side], shifts: int, scopes: int) -> None:
    """Print both ways of working side by side, and how the shifts differ one by one."""
    without, with_plan = sides[False], sides[True]
    print(f"| {shifts} shifts of 8 h, {scopes} scopes, one technician | without the plan | following the plan |")
    print("|---|---|---|")
    for name in sorted({*without.lates, *with_plan.lates}):
        print(f"| lates: {name} | {without.lates[name]} | {with_plan.lates[name]} |")
    rows = {
        "calls, very late": lambda s: s.very_late,
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
        f"\nFewer avoidable lates with the plan in {fewer} shifts, more in {more}, as many in {shifts - fewer - more};"
    )
    better = f"{100 * fewer / max(1, fewer + more):.0f} % have fewer (95 %: {100 * low:.0f} to {100 * high:.0f} %)"
    print(f"of those that differ {better}.")
    spread = Counter(b - a for a, b in pairs)
    shown = ", ".join(f"{change:+d}: {spread[change]}" for change in sorted(spread))
    print(f"Change in avoidable lates by shift, shifts each: {shown}.")


if __name__ == "__main__":
    main()
