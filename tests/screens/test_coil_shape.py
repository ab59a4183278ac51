"""The spiral of the coil: fills evenly from inside out, ends running upwards, breaks at the same places."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screens.widgets import coil_shape as shape

SPIRAL = shape.spiral(50.0, 60.0, 40.0)


def _radius(points: tuple[float, ...] | list[float], at: int) -> float:
    return math.hypot(points[2 * at] - 50.0, points[2 * at + 1] - 60.0)


def test_it_runs_from_inside_out_within_its_circle() -> None:
    radii = [_radius(SPIRAL, at) for at in range(len(SPIRAL) // 2)]
    assert radii == sorted(radii)
    assert radii[0] == pytest.approx(40.0 * shape.INNER_SHARE)
    assert radii[-1] == pytest.approx(40.0)


def test_its_length_is_that_of_an_archimedean_spiral() -> None:
    # Arc length of r = a + b t by numerical integration of sqrt(r^2 + b^2), the textbook formula for polar
    # curves.
    full = 2 * math.pi * shape.TURNS
    inner, grow = 40.0 * shape.INNER_SHARE, 40.0 * (1 - shape.INNER_SHARE) / full
    steps = 20_000
    total = sum(math.hypot(inner + grow * (at + 0.5) * full / steps, grow) * full / steps for at in range(steps))
    assert shape.length(SPIRAL) == pytest.approx(total, rel=0.002)


def test_its_end_is_at_the_right_and_runs_upwards() -> None:
    assert SPIRAL[-2:] == pytest.approx((90.0, 60.0))
    assert SPIRAL[-1] > SPIRAL[-3], "anticlockwise, so that the end can be turned up without a kink"
    raised = shape.upturned(SPIRAL, 110.0)
    assert raised[-2:] == [SPIRAL[-2], 110.0]
    assert raised[: len(SPIRAL)] == list(SPIRAL)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_part_has_its_share_of_the_length(one: float, other: float) -> None:
    start, end = sorted((one, other))
    part = shape.part(SPIRAL, start, end)
    if end - start < 1e-9:
        return
    assert shape.length(part) == pytest.approx((end - start) * shape.length(SPIRAL), abs=1e-6)


@given(st.floats(0.0, 1.0))
def test_two_parts_make_the_whole(cut: float) -> None:
    first, second = shape.part(SPIRAL, 0.0, cut), shape.part(SPIRAL, cut, 1.0)
    assert shape.length(first) + shape.length(second) == pytest.approx(shape.length(SPIRAL))


def test_empty_and_whole_parts() -> None:
    assert shape.part(SPIRAL, 0.0, 0.0) == []
    assert shape.part(SPIRAL, 0.7, 0.3) == []
    whole = shape.part(SPIRAL, -1.0, 2.0)
    assert whole[:2] == pytest.approx(SPIRAL[:2])
    assert whole[-2:] == pytest.approx(SPIRAL[-2:])


@given(st.floats(1.0, 500.0), st.floats(1.0, 60.0), st.floats(0.5, 30.0))
def test_broken_lines_begin_and_end_with_a_dash(total: float, dash: float, gap: float) -> None:
    dashes = shape.broken(total, dash, gap)
    assert dashes[0][0] == 0.0
    assert dashes[-1][1] == pytest.approx(1.0)
    for (_, end), (start, _) in pairwise(dashes):
        assert start > end


def test_a_coil_over_its_limit_is_visibly_broken() -> None:
    dashes = shape.broken(shape.length(SPIRAL), 40.0 * 0.55, 40.0 * 0.26)
    drawn = sum(end - start for start, end in dashes)
    assert len(dashes) >= 5
    assert 0.5 < drawn < 0.8


def test_two_rails_never_touch_each_other_or_the_next_turn() -> None:
    from screens.widgets import coil_picture as coil

    pitch = (1 - shape.INNER_SHARE) / shape.TURNS
    across = 2 * coil._RAIL_SHIFT + coil._RAIL_SHARE
    between_rails = 2 * coil._RAIL_SHIFT - coil._RAIL_SHARE
    assert between_rails > 0.05
    assert pitch - across > 2 * between_rails, "a double track reads as double only when its rails lie close together"


@given(st.floats(1.0, 12.0), st.floats(0.001, 1.0))
def test_a_ribbon_is_equally_wide_all_along(half: float, end: float) -> None:
    points = shape.part(SPIRAL, 0.0, end)
    corners = shape.ribbon(points, half)
    assert len(corners) == len(points) * 4
    for at in range(0, len(corners), 8):
        left_x, left_y, across_left, _, right_x, right_y, across_right, _ = corners[at : at + 8]
        assert math.hypot(left_x - right_x, left_y - right_y) == pytest.approx(2 * half)
        assert ((left_x + right_x) / 2, (left_y + right_y) / 2) == pytest.approx(tuple(points[at // 4 : at // 4 + 2]))
        assert (across_left, across_right) == (0.0, 1.0)


@pytest.mark.parametrize("radius", [10.0, 30.0, 100.0, 250.0])
def test_no_corner_of_the_spiral_can_be_seen(radius: float) -> None:
    points = shape.spiral(0.0, 0.0, radius)
    last = [math.dist(points[at : at + 2], points[at + 2 : at + 4]) for at in range(0, len(points) - 2, 2)][-1]
    sag = radius - math.sqrt(radius**2 - (last / 2) ** 2)  # height of a chord of this length in the outer circle
    assert sag < 0.25


def test_signs_of_the_liquid_lie_in_their_corner() -> None:
    for x, y, radius in shape.bubbles(0.0, 100.0, 5.0):
        assert x - radius >= 0
        assert y + radius <= 100.0
        assert x + radius <= 20.0
        assert y - radius >= 80.0
    for wave in shape.breeze(0.0, 100.0, 5.0):
        assert min(wave[::2]) >= 0
        assert max(wave[1::2]) <= 100.0
    tip = shape.arrow_head(10.0, 90.0, 8.0, 6.0)
    assert tip[:2] == [10.0, 90.0]
    assert tip[3] == tip[5] == 84.0
