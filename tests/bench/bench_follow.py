"""The same rehearsed shifts with and without following the plan, side by side: 4 shifts (--full: 200).

Scopes come in and the technician is called away at the same times either way; what scopes do after their first cycle
follows from when they were ready. Without the plan the technician turns to what is called, else to the scope that is
furthest on its way. Lates that no order avoids (end of the procedure unknown, come in too late, hands called away from
before a soak was ready until past its limit) are counted apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from multiprocessing import Pool
from statistics import mean, quantiles
from typing import Any

from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse
from data.rehearse.tally import Tally
from protocols.survival import wilson
from tests.bench.rows import Row

SCOPES = 6
DELAY = "cleaned past the delay limit, or delay unknown"
AWAY = "called away"


@dataclass
class Side:
    """What one way of working came to over all shifts."""

    lates: Counter[str] = field(default_factory=Counter)
    very_late: int = 0
    turnaround_s: list[float] = field(default_factory=list)
    received: int = 0
    avoidable: list[int] = field(default_factory=list)
    done: list[int] = field(default_factory=list)

    def add(self, one: dict[str, Any]) -> None:
        late = Counter(one["late"])
        self.avoidable.append(sum(n for kind, n in late.items() if AWAY not in kind) - one["unavoidable"])
        late[DELAY] -= one["unavoidable"]
        late["came in late or unknown (no order avoids it)"] += one["unavoidable"]
        self.lates.update(late)
        self.very_late += one["very_late"]
        self.turnaround_s += one["turnaround_s"]
        self.received += one["received"]
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


def rows(full: bool) -> Iterator[Row]:
    """Promise each kind of late, calls, cycles and turnaround with the plan beside those without it."""
    shifts = 200 if full else 4
    sides = {False: Side(), True: Side()}
    with Pool() as pool:
        for _, pair in pool.imap(both, [(seed, SCOPES) for seed in range(shifts)]):
            for follow, one in zip((False, True), pair, strict=True):
                sides[follow].add(one)
    without, with_plan = sides[False], sides[True]
    of = f"{shifts} shifts of 8 h, {SCOPES} scopes"
    for name in sorted({*without.lates, *with_plan.lates}):
        yield beside(f"{of}, lates: {name}", without.lates[name], with_plan.lates[name], "")
    yield beside(f"{of}: calls of very late", without.very_late, with_plan.very_late, "")
    yield beside(f"{of}: cycles completed", sum(without.done), sum(with_plan.done), "")
    means = [round(mean(side.turnaround_s) / 60, 1) for side in (without, with_plan)]
    tops = [f"nine of ten below {quantiles(side.turnaround_s, n=10)[8] / 60:.0f} min" for side in (without, with_plan)]
    yield beside(f"{of}: mean turnaround", *means, "min", *tops)
    pairs = list(zip(without.avoidable, with_plan.avoidable, strict=True))
    fewer, more = sum(a > b for a, b in pairs), sum(a < b for a, b in pairs)
    low, high = wilson(fewer, fewer + more)
    said = f"{fewer} fewer, {more} more, {shifts - fewer - more} as many; 95 %: {100 * low:.0f} to {100 * high:.0f} %"
    yield Row(f"{of}: of shifts that differ, fewer avoidable lates with the plan",
              round(100 * fewer / max(1, fewer + more)), None, said, unit="%")  # fmt: skip


def beside(what: str, without: float, with_plan: float, unit: str, without_more: str = "", with_more: str = "") -> Row:
    """Promise the row of a figure with the plan, beside that without it."""
    ours = " ".join(f"with the plan {with_plan} {unit} {with_more}".split())
    peer = " ".join(f"without {without} {unit} {without_more}".split())
    return Row(what, with_plan, None, ours, peer, unit=unit)
