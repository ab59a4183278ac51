"""The exponents of the benches' table against a reference library's least squares."""

from math import log
from random import Random

import pytest
import statsmodels.api as sm

from tests.bench.rows import fitted

SIZES = (26, 104, 520)


def points(turns: int, moody: float) -> list[tuple[float, float]]:
    """Costs that grow with size ** 1.02, by turns of which some are slower than others."""
    rng = Random(f"{turns} {moody}")
    moods = [1 + moody * rng.random() for _ in range(turns)]
    return [(size, size**1.02 * mood * (1 + 0.02 * rng.random())) for mood in moods for size in SIZES]


@pytest.mark.parametrize(("turns", "moody"), [(1, 0.0), (5, 0.0), (5, 0.5), (30, 0.5)])
@pytest.mark.parametrize("in_turns", [False, True])
def test_an_exponent_and_its_bound_are_those_of_ordinary_least_squares(
    turns: int, moody: float, in_turns: bool
) -> None:
    # statsmodels OLS of log(cost) on log(size), with one constant for all or one for each turn; 95 % two-sided.
    found = points(turns, moody)
    rows = [[log(size), *(float(at // len(SIZES) == turn) for turn in range(turns if in_turns else 0))]
            for at, (size, _) in enumerate(found)]  # fmt: skip
    if not in_turns:
        rows = [[*row, 1.0] for row in rows]
    model = sm.OLS([log(cost) for _, cost in found], rows).fit()
    fit = fitted(found, in_turns)
    assert fit.exponent == pytest.approx(model.params[0], abs=1e-9)
    # the table of quantiles has three decimals, and 1.96 from the 31st degree of freedom on
    width = model.conf_int(0.05)[0][1] - model.params[0]
    assert fit.at_most - fit.exponent == pytest.approx(width, rel=0.05)


def test_a_slow_turn_widens_no_bound_where_all_sizes_took_turns() -> None:
    calm, moody = points(5, 0.0), points(5, 0.5)
    assert fitted(moody, in_turns=True).at_most < fitted(moody).at_most - 0.02
    assert fitted(calm, in_turns=True).at_most == pytest.approx(fitted(calm).at_most, abs=0.01)
