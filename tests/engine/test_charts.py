"""Control charts against published examples.

NIST/SEMATECH e-Handbook 6.3.2.2, 6.3.3.1, 6.3.3.2 and 7.2.6.2 (data and results as quoted by third parties); SAS/QC
User's Guide 9.22, MACONTROL example 9.4 (data and limits as printed; it uses the exact d2, so limits agree to the
fourth digit only); Montgomery, Introduction to Statistical Quality Control (circuit boards; dyed cloth, whose unit
counts are from memory). The run length of an unchanged process: Champ and Woodall 1987 (from memory).
"""

from __future__ import annotations

from random import Random
from statistics import mean

import pytest

from protocols.charts import BEYOND, EIGHT, FOUR_OF_FIVE, TWO_OF_THREE, individuals, p_chart, quantile, signals, u_chart
from protocols.errors import Defect

NIST_SINGLE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
TIRES = [
    24.05, 23.99, 23.95, 23.93, 23.97, 24.02, 24.06, 24.10, 23.98, 24.03, 23.91, 24.06, 24.06, 23.96, 23.98, 24.06,
    24.01, 24.00, 23.93, 23.92, 24.09, 24.11, 24.05, 23.98, 23.98, 24.06, 24.02, 24.06, 23.97, 23.96,
]  # fmt: skip
WAFERS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
DEFECTS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
BOARDS = [21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24, 16, 19, 17, 15]
CLOTH = [14, 12, 20, 11, 7, 10, 21, 16, 19, 23], [10, 8, 13, 10, 9.5, 10, 12, 10.5, 12, 12.5]
PERCENTILE = [
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682,
]  # fmt: skip


def beyond(chart) -> list[int]:
    return [number for number, point in enumerate(chart.points, 1) if BEYOND in point.signals]


def test_individuals_of_the_handbook() -> None:
    single, moving = individuals(NIST_SINGLE)
    assert single.centre == pytest.approx(50.81)
    assert moving.centre == pytest.approx(1.8778, abs=5e-5)
    assert single.points[0].upper == pytest.approx(55.8041, abs=5e-5)
    assert single.points[0].lower == pytest.approx(45.8159, abs=5e-5)
    assert moving.points[0].upper == pytest.approx(6.135, abs=1e-3)
    assert beyond(single) == [] and beyond(moving) == []


def test_individuals_of_the_tires() -> None:
    single, moving = individuals(TIRES)
    assert single.centre == pytest.approx(24.0083, abs=5e-5)
    assert moving.centre == pytest.approx(0.056897, abs=5e-7)
    assert single.points[0].lower == pytest.approx(23.8571, abs=1.5e-4)
    assert single.points[0].upper == pytest.approx(24.1596, abs=1.5e-4)
    assert moving.points[0].upper == pytest.approx(0.18585, abs=5e-5)


def test_proportions_of_the_handbook() -> None:
    chart = p_chart(WAFERS, [50] * 30)
    assert chart.centre == pytest.approx(0.2313333, abs=5e-8)
    assert chart.points[0].upper == pytest.approx(0.4102391, abs=5e-8)
    assert chart.points[0].lower == pytest.approx(0.05242755, abs=5e-9)
    assert beyond(chart) == [15, 23]


def test_counts_of_the_handbook_and_a_point_on_the_limit() -> None:
    chart = u_chart(DEFECTS, [1] * 25)
    assert (chart.centre, chart.points[0].lower, chart.points[0].upper) == (16, 4, 28)
    assert beyond(chart) == [24]  # point 3 lies on the limit, and is not beyond it


def test_counts_of_the_circuit_boards() -> None:
    chart = u_chart(BOARDS, [1] * 26)
    assert chart.centre == pytest.approx(19.84615, abs=5e-6)
    assert chart.points[0].upper == pytest.approx(33.21086, abs=5e-6)
    assert chart.points[0].lower == pytest.approx(6.481447, abs=5e-7)
    assert beyond(chart) == [6, 20]


def test_counts_a_unit_of_the_dyed_cloth() -> None:
    chart = u_chart(*CLOTH)
    assert chart.centre == pytest.approx(1.42326, abs=5e-6)
    tops = [2.56, 2.69, 2.42, 2.56, 2.58, 2.56, 2.46, 2.53, 2.46, 2.44]
    floors = [0.29, 0.16, 0.43, 0.29, 0.26, 0.29, 0.39, 0.32, 0.39, 0.41]
    assert [round(point.upper, 2) for point in chart.points] == tops
    assert [round(point.lower, 2) for point in chart.points] == floors
    assert beyond(chart) == []


def test_percentiles_as_the_handbook_shows_them_for_this_definition() -> None:
    assert quantile(PERCENTILE, 0.9) == pytest.approx(95.19568, abs=5e-6)
    assert quantile(PERCENTILE, 0.5) == pytest.approx(95.1579, abs=1e-4)


def test_percentiles_as_numpy_has_them() -> None:
    numpy = pytest.importorskip("numpy")
    chance = Random(1)
    for length in range(1, 40):
        values = [chance.uniform(0, 100) for _ in range(length)]
        for share in (0.0, 0.1, 0.5, 0.9, 1.0):
            assert quantile(values, share) == pytest.approx(numpy.quantile(values, share, method="linear"))


@pytest.mark.parametrize(
    ("away", "names"),
    [
        ([0, 3.0], ()),
        ([0, 3.1], (BEYOND,)),
        ([2.1, 0, 2.1], (TWO_OF_THREE,)),
        ([2.1, 0, 0, 2.1], ()),
        ([2.1, -2.1], ()),
        ([1.1, 1.1, 0, 1.1, 1.1], (FOUR_OF_FIVE,)),
        ([1.1, 1.1, 1.1, 1.1, -0.1], ()),
        ([0.1] * 7, ()),
        ([-0.1] * 8, (EIGHT,)),
        ([0.1] * 4 + [0] + [0.1] * 4, ()),
        ([-2.5, -3.5], (BEYOND, TWO_OF_THREE)),
    ],
)
def test_run_rules(away: list[float], names: tuple[str, ...]) -> None:
    assert signals(away)[-1] == names


def test_an_unchanged_process_is_called_unusual_about_once_in_92_points() -> None:
    chance, lengths = Random(7), []
    for _ in range(300):
        away: list[float] = []
        while not (away and signals(away[-8:])[-1]):
            away.append(chance.gauss(0, 1))
        lengths.append(len(away))
    assert mean(lengths) == pytest.approx(91.75, abs=15)  # the standard error of this mean is about 5


def test_a_process_that_never_varies_has_no_signal_and_one_that_then_does_has() -> None:
    assert individuals([5.0] * 20)[0].unusual == []
    assert u_chart([0] * 12, [3] * 12).unusual == []
    assert p_chart([0, 0, 0], [4, 5, 6]).unusual == []


def test_small_groups_are_judged_by_their_exact_chance() -> None:
    """By the binomial and Poisson laws; 0.00135 is the chance beyond three standard deviations on one side."""
    quiet = p_chart([1, *[0] * 40], [10, *[10] * 40])
    assert quiet.unusual == []  # neither the one late cycle nor forty days without one
    days = p_chart([3, *[1, 0] * 20], [10, *[10] * 40])
    assert days.points[0].value > days.points[0].upper and days.unusual == []  # 3 of 10: once in some 60 days
    assert p_chart([5, *[1, 0] * 20], [10, *[10] * 40]).unusual == [0]
    counts = u_chart([3, *[0, 1] * 20], [1] * 41)
    assert counts.unusual == [] and u_chart([6, *[0, 1] * 20], [1] * 41).unusual == [0]


def test_what_can_be_no_chart_is_a_defect() -> None:
    for wrong in (lambda: individuals([1.0]), lambda: p_chart([1], [0]), lambda: p_chart([3], [2]),
                  lambda: u_chart([1], [0]), lambda: u_chart([-1], [1]), lambda: quantile([], 0.5),
                  lambda: quantile([1.0], 1.5)):  # fmt: skip
        with pytest.raises(Defect):
            wrong()
