"""The product-limit estimate and the score interval against published values.

Estimates for the 6-MP arm: the standard table as computed by lifelines 0.30.3 and statsmodels 0.15.0; data of Freireich
et al. 1963 (Blood 21:699) as printed in Le, Introductory Biostatistics, example 11.1. Score intervals: Newcombe 1998
(Stat Med 17:857), Table I, method 3, values from memory, the same by statsmodels.
"""

from __future__ import annotations

import pytest

from protocols.survival import product_limit, share_beyond, time_of, wilson

ENDED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
RUNNING = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
TABLE = [
    (6, 21, 3, 0.8571, 0.0764), (7, 17, 1, 0.8067, 0.0869), (10, 15, 1, 0.7529, 0.0963), (13, 12, 1, 0.6902, 0.1068),
    (16, 11, 1, 0.6275, 0.1141), (22, 7, 1, 0.5378, 0.1282), (23, 6, 1, 0.4482, 0.1346),
]  # fmt: skip
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def treated():
    return product_limit(ENDED + RUNNING, [True] * len(ENDED) + [False] * len(RUNNING))


def test_the_published_table_of_the_treated_arm() -> None:
    assert [(p.at, p.at_risk, p.ended) for p in treated()] == [row[:3] for row in TABLE]
    for point, row in zip(treated(), TABLE, strict=True):
        assert point.share == pytest.approx(row[3], abs=5e-5)
        assert point.error == pytest.approx(row[4], abs=5e-5)


def test_the_published_medians() -> None:
    assert time_of(treated(), 0.5) == 23
    assert time_of(product_limit(PLACEBO, [True] * len(PLACEBO)), 0.5) == 8


def test_dropping_what_still_runs_would_make_everything_look_shorter() -> None:
    only_ended = product_limit(ENDED, [True] * len(ENDED))
    assert time_of(only_ended, 0.5) == 10 < 23
    assert share_beyond(only_ended, 10) < share_beyond(treated(), 10)


def test_an_estimate_that_never_falls_so_far_gives_no_time() -> None:
    assert time_of(treated(), 0.4) is None
    assert share_beyond(treated(), 5.9) == 1 and share_beyond(treated(), 1000) == pytest.approx(0.4482, abs=5e-5)
    assert product_limit([], []) == [] and time_of([], 0.5) is None


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_published_score_intervals(hits: int, of: int, low: float, high: float) -> None:
    assert wilson(hits, of) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))


def test_nothing_seen_says_nothing() -> None:
    assert wilson(0, 0) == (0.0, 1.0)
