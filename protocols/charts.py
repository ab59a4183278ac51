"""Control charts: which figures are a real change, and which are the noise that every process has.

A chart has a centre line and limits at three standard deviations, and names the points that the usual run rules call
unusual. Sources: NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2 (individuals and moving range, run rules),
6.3.3.1 (counts) and 6.3.3.2 (proportions); the run rules are those of Western Electric, Statistical Quality Control
Handbook, 1956. Together they call one point in about 92 of an unchanged process unusual (Champ and Woodall 1987,
Technometrics 29:393), so one signal is a reason to look, not a proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import comb, copysign, exp, factorial, floor, inf, sqrt
from typing import NamedTuple

from protocols.errors import Defect

# Mean of the range of two normal values over their standard deviation (d2) and the factor of the range's upper limit
# (D4), as NIST 6.3.2.2 has them, rounded.
D2, D4 = 1.128, 3.267
# Limits from fewer points than this move too much to tell anything. Common practice, no source.
POINTS_MIN = 8

BEYOND, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT = "beyond", "two of three", "four of five", "eight"
# Rule, how many of how many points, how far from the centre (in standard deviations), all on one side.
_RUNS = ((TWO_OF_THREE, 2, 3, 2.0), (FOUR_OF_FIVE, 4, 5, 1.0), (EIGHT, 8, 8, 0.0))
# A point that lies on a limit is not beyond it, whatever rounding says.
_TIE = 1e-9
# Groups in which fewer than so many are expected are not near enough to a normal spread for the limits or runs to mean
# what they say: then a point counts as unusual only where its exact chance is as small as beyond three standard
# deviations on one side of a normal spread. Expected counts of five: common practice, no source.
_EXPECTED_MIN, _CHANCE = 5, 0.00135


class ChartPoint(NamedTuple):
    """One point: its value, its limits, and the names of the rules that call it unusual."""

    value: float
    lower: float
    upper: float
    signals: tuple[str, ...] = ()


class Chart(NamedTuple):
    """A chart's centre line and its points, in order of time."""

    centre: float
    points: tuple[ChartPoint, ...]

    @property
    def unusual(self) -> list[int]:
        """Promise the numbers of the points that a rule names, from 0."""
        return [number for number, point in enumerate(self.points) if point.signals]


def individuals(values: Sequence[float]) -> tuple[Chart, Chart]:
    """Promise the chart of single values and the chart of their moving ranges (one point fewer).

    The spread is the mean moving range over d2, so that a lasting shift does not widen its own limits. Raises Defect
    for fewer than two values. Source: NIST 6.3.2.2.
    """
    if len(values) < 2:
        raise Defect(f"a chart of {len(values)} values has no moving range; give at least two")
    ranges = [abs(after - before) for before, after in pairwise(values)]
    mean, range_mean = sum(values) / len(values), sum(ranges) / len(ranges)
    sigma = range_mean / D2
    single = _chart(values, mean, [sigma] * len(values), -inf, inf)
    top = D4 * range_mean
    moving = [ChartPoint(one, 0.0, top, (BEYOND,) if one > top + _TIE else ()) for one in ranges]
    return single, Chart(range_mean, tuple(moving))


def p_chart(hits: Sequence[int], of: Sequence[int]) -> Chart:
    """Promise the chart of shares, one point for each group of `of` cases with `hits` among them.

    Raises Defect for a group of none, or more hits than cases. Source: NIST 6.3.3.2.
    """
    if any(n <= 0 or not 0 <= x <= n for x, n in zip(hits, of, strict=True)):
        raise Defect("a share needs at least one case, and no more hits than cases; leave empty groups out")
    share = sum(hits) / sum(of) if of else 0.0
    sigmas = [sqrt(share * (1 - share) / n) for n in of]
    rare = [
        _chance_of(x, [_binomial(k, n, share) for k in range(x)]) if min(share, 1 - share) * n < _EXPECTED_MIN else None
        for x, n in zip(hits, of, strict=True)
    ]
    return _chart([x / n for x, n in zip(hits, of, strict=True)], share, sigmas, 0.0, 1.0, rare)


def u_chart(counts: Sequence[int], units: Sequence[float]) -> Chart:
    """Promise the chart of counts for one unit, one point for each group of so many units.

    With one unit a group it is the chart of counts (c). Raises Defect for a group without units or a negative count.
    Source: NIST 6.3.3.1; the standard deviation is that of Poisson counts.
    """
    if any(n <= 0 or x < 0 for x, n in zip(counts, units, strict=True)):
        raise Defect("counts a unit need at least some units; leave empty groups out")
    mean = sum(counts) / sum(units) if units else 0.0
    rare = [
        _chance_of(x, [_poisson(k, mean * n) for k in range(x)]) if mean * n < _EXPECTED_MIN else None
        for x, n in zip(counts, units, strict=True)
    ]
    values = [x / n for x, n in zip(counts, units, strict=True)]
    return _chart(values, mean, [sqrt(mean / n) for n in units], 0.0, inf, rare)


def _chance_of(count: int, fewer: Sequence[float]) -> float:
    """The chance of so many or more, from the chances of every lower count."""
    return max(0.0, 1 - sum(fewer)) if count else 1.0


def _binomial(count: int, of: int, share: float) -> float:
    return float(comb(of, count) * share**count * (1 - share) ** (of - count))


def _poisson(count: int, mean: float) -> float:
    return exp(-mean) * mean**count / factorial(count)


def _chart(
    values: Sequence[float], centre: float, sigmas: Sequence[float], low: float, high: float,
    rare: Sequence[float | None] = (),
) -> Chart:  # fmt: skip
    """`rare` holds the exact chance of each point that is too small a group for the run rules, None for others."""
    away = [_away(value - centre, sigma) for value, sigma in zip(values, sigmas, strict=True)]
    chances = rare or [None] * len(values)
    named = signals([0.0 if chance is not None else one for one, chance in zip(away, chances, strict=True)])
    points = [
        ChartPoint(
            value, max(low, centre - 3 * sigma), min(high, centre + 3 * sigma),
            names if chance is None else (BEYOND,) if chance < _CHANCE else (),
        )
        for value, sigma, names, chance in zip(values, sigmas, named, chances, strict=True)
    ]  # fmt: skip
    return Chart(centre, tuple(points))


def _away(difference: float, sigma: float) -> float:
    if abs(difference) <= _TIE:
        return 0.0
    return difference / sigma if sigma > 0 else copysign(inf, difference)


def signals(away: Sequence[float]) -> list[tuple[str, ...]]:
    """Promise for each point the rules that name it; `away` is its distance from the centre in standard deviations.

    A point is named when it completes a run and lies itself on the run's side beyond the run's distance.
    """
    found = []
    for number, here in enumerate(away):
        side = copysign(1.0, here)
        names = [BEYOND] if abs(here) > 3 + _TIE else []
        for name, hits, of, distance in _RUNS:
            last = away[max(0, number + 1 - of) : number + 1]
            beyond = sum(1 for one in last if one * side > distance + _TIE)
            if here * side > distance + _TIE and beyond >= hits:
                names.append(name)
        found.append(tuple(names))
    return found


def quantile(values: Sequence[float], share: float) -> float:
    """Promise the value below which so large a share lies, between two values by straight line. Defect for none.

    Source: Hyndman and Fan 1996, definition 7, which is also what SQL's percentile_cont gives, so that a handheld and
    a unit's database come to the same figures. NIST 7.2.6.2 shows it beside its own.
    """
    if not values or not 0 <= share <= 1:
        raise Defect(f"no share {share!r} of {len(values)} values can be found; give values and a share from 0 to 1")
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    below = floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
