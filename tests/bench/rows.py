"""What every bench hands to the one table: rows of what was measured against its peer or its limit, in one run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from math import log, sqrt
from resource import RUSAGE_SELF, getrusage
from statistics import mean, median
from time import perf_counter, process_time
from typing import Any, NamedTuple, Protocol

# Two-sided 95 % quantiles of Student's t for 1 to 30 degrees of freedom (NIST/SEMATECH e-Handbook 1.3.6.7.2); beyond 30
# the normal distribution's 1.96 is within 4 %.
_T95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131, 2.120,
        2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042)  # fmt: skip


class Row(NamedTuple):
    """One line of the table.

    `value` is what counts: a ratio of ours to the peer, an exponent, or what `unit` says. `limit` is the most that it
    may be (None: told, not judged). `ours` and `peer` are the figures behind it, as text with their units.
    """

    what: str
    value: float
    limit: float | None = None
    ours: str = ""
    peer: str = ""
    unit: str = "x"
    at_least: bool = False

    @property
    def met(self) -> bool | None:
        """Promise whether the limit is kept; None where there is none."""
        if self.limit is None:
            return None
        return self.value >= self.limit if self.at_least else self.value <= self.limit

    def plain(self, bench: str) -> dict[str, Any]:
        """Promise the row as JSON takes it."""
        return {"bench": bench, **self._asdict(), "met": self.met}


class Fit(NamedTuple):
    """An exponent of cost against size: log(cost) = exponent * log(size) + c, and its upper 95 % bound."""

    exponent: float
    at_most: float


def fitted(points: Sequence[tuple[float, float]], in_turns: bool = False) -> Fit:
    """Promise the least-squares exponent over (size, cost) pairs, both above 0, of at least two sizes, three points.

    With `in_turns` the first point of every size is of one turn, the second of the next: each turn then has a constant
    of its own, so that a machine that is slower for a while counts for neither the growth nor its bound.
    """
    times_met: Counter[float] = Counter()
    groups: dict[int, list[tuple[float, float]]] = {}
    for size, cost in points:
        groups.setdefault(times_met[size] if in_turns else 0, []).append((log(size), log(cost)))
        times_met[size] += 1
    centred: list[tuple[float, float]] = []
    for group in groups.values():
        x_mean, y_mean = (mean(side) for side in zip(*group, strict=True))
        centred += [(x - x_mean, y - y_mean) for x, y in group]
    spread = sum(x**2 for x, _ in centred)
    slope = sum(x * y for x, y in centred) / spread
    rest = sum((y - slope * x) ** 2 for x, y in centred)
    free = len(points) - len(groups) - 1
    quantile = _T95[free - 1] if free <= len(_T95) else 1.96
    return Fit(slope, slope + quantile * sqrt(rest / free / spread))


def growth(
    what: str, points: Sequence[tuple[float, float]], limit: float | None, of: str, in_turns: bool = False
) -> Row:
    """Promise the row of a fitted exponent; it is judged by its upper 95 % bound, or told (None)."""
    fit = fitted(points, in_turns)
    sizes = sorted({size for size, _ in points})
    text = f"exponent {fit.exponent:+.3f}, over {len(points)} points from {sizes[0]:,.0f} to {sizes[-1]:,.0f} {of}"
    return Row(f"{what}: growth", round(fit.at_most, 3), limit, text, unit="exponent, 95 % bound")


def seconds(work: Callable[[], object]) -> float:
    """Promise how long one call takes on the wall."""
    start = perf_counter()
    work()
    return perf_counter() - start


def processor_seconds(work: Callable[[], object]) -> float:
    """Promise how long one call is on the processor, which a busy machine disturbs less than the wall's seconds."""
    start = process_time()
    work()
    return process_time() - start


def own_seconds(work: Callable[[], object]) -> tuple[float, float]:
    """Promise how long one call takes on the wall, and how long its own code is on the processor.

    The system's part is left out of the latter: for files beyond what it holds in memory it is that of the storage.
    """
    before = getrusage(RUSAGE_SELF).ru_utime
    took_s = seconds(work)
    return took_s, getrusage(RUSAGE_SELF).ru_utime - before


class Asked(Protocol):
    """One length of record; `ask` measures one question once, ours and the peer's, and puts both into `took`."""

    took: dict[str, list[tuple[float, float]]]

    def ask(self, what: str) -> None:
        """Ask both."""


def ask_in_turns(lengths: Sequence[Asked], whats: Iterable[str], turns: int) -> None:
    """Ask all lengths in turns, so that each sees the machine's same moods. The first asking warms up, uncounted."""
    for what in whats:
        for _ in range(turns + 1):
            for length in lengths:
                length.ask(what)
        for length in lengths:
            del length.took[what][0]


def beside_peer(what: str, took: Sequence[tuple[float, float]], digits: int) -> Row:
    """Promise the row of seconds taken by ours and by the peer, by turns."""
    ours, theirs = (median(side) for side in zip(*took, strict=True))
    return Row(what, round(ours / theirs, digits), None, micro(ours), micro(theirs))


def micro(taken: float) -> str:
    """Promise seconds as a short text in the unit that suits them."""
    if taken < 1e-3:
        return f"{taken * 1e6:.0f} us"
    return f"{taken * 1e3:.1f} ms" if taken < 1 else f"{taken:.2f} s"
