"""Statistics for forecasts: the product-limit estimate for times of which some still run, and intervals for shares."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple

# Standard normal value of a two-sided 95 % interval.
Z_95 = 1.959963984540054


class Point(NamedTuple):
    """The estimate from time `at` on: how many were at risk and ended then, the share that lasts longer, its error.

    `error` is the standard error of the share by Greenwood's formula.
    """

    at: float
    at_risk: int
    ended: int
    share: float
    error: float


def product_limit(times: Sequence[float], ended: Sequence[bool]) -> list[Point]:
    """Promise the product-limit estimate, one point for each time at which something ended, in order of time.

    `ended` is False for what was still running at its time: it counts as at risk until then, and is not dropped.
    Source: Kaplan and Meier 1958, J Am Stat Assoc 53:457; Greenwood's formula for the error.
    """
    points: list[Point] = []
    share, spread = 1.0, 0.0
    for at in sorted({t for t, e in zip(times, ended, strict=True) if e}):
        at_risk = sum(1 for t in times if t >= at)
        count = sum(1 for t, e in zip(times, ended, strict=True) if e and t == at)
        share *= 1 - count / at_risk
        if count < at_risk:
            spread += count / (at_risk * (at_risk - count))
        points.append(Point(at, at_risk, count, share, share * sqrt(spread)))
    return points


def share_beyond(points: Sequence[Point], at: float) -> float:
    """Promise the estimated share of times longer than `at`."""
    share = 1.0
    for point in points:
        if point.at > at:
            break
        share = point.share
    return share


def time_of(points: Sequence[Point], beyond: float) -> float | None:
    """Promise the shortest time that at most the share `beyond` outlasts; None when the estimate never falls so far."""
    # Shares are products of fractions: one that equals the level but for rounding has reached it.
    return next((point.at for point in points if point.share <= beyond + 1e-12), None)


def wilson(hits: int, of: int, z: float = Z_95) -> tuple[float, float]:
    """Promise the score interval of a share of `hits` in `of`, 95 % unless another `z` is given; (0, 1) for none.

    Source: Wilson 1927; named method 3 in Newcombe 1998, Stat Med 17:857.
    """
    if of <= 0:
        return 0.0, 1.0
    share = hits / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - half), min(1.0, middle + half)
