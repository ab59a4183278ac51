"""Needs on the strip: nothing lies over anything, the urgent shows, and standing still costs nothing."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from harness import Screen
from hypothesis import given
from hypothesis import strategies as st
from kivy.uix.boxlayout import BoxLayout

from screens.widgets.timeline import Timeline
from screens.widgets.timeline_shape import HandsNeeded, Placed, place

WIDTH = 336.0


def _label(tag: str) -> float:
    return 9.0 * len(tag)


def _needs() -> st.SearchStrategy[list[HandsNeeded]]:
    one = st.builds(
        HandsNeeded,
        st.sampled_from(["B2", "G7", "C10", "D3", "U1"]),
        st.floats(-900, 2400),
        st.floats(10, 600),
        st.sampled_from(["over", "ready", "coming"]),
    )
    return st.lists(one, max_size=14)


def _extent(spot: Placed) -> tuple[float, float]:
    return min(spot.bar_left, spot.label_left), max(spot.bar_left + spot.bar_width, spot.label_left + spot.label_width)


@given(_needs())
def test_nothing_touches_and_nothing_leaves_the_strip(needs: list[HandsNeeded]) -> None:
    placed, left_out = place(needs, 1800.0, WIDTH, _label)
    assert len(placed) + left_out == sum(need.start_s < 1800.0 for need in needs)
    for row in {spot.row for spot in placed}:
        extents = sorted(_extent(spot) for spot in placed if spot.row == row)
        assert all(end < begin for (_, end), (begin, _) in pairwise(extents))
    for spot in placed:
        begin, end = _extent(spot)
        assert begin >= 0
        assert end <= WIDTH + 1e-6
        assert spot.bar_width >= 8.0


@given(_needs())
def test_what_is_left_out_is_never_more_urgent_than_all_that_is_drawn(needs: list[HandsNeeded]) -> None:
    placed, _ = place(needs, 1800.0, WIDTH, _label)
    over = [need for need in needs if need.level == "over" and need.start_s < 1800.0]
    if over:
        assert any(spot.need.level == "over" for spot in placed)


def test_what_is_overdue_is_drawn_at_the_left_edge() -> None:
    placed, _ = place([HandsNeeded("D3", -365.0, 60.0, "over")], 1800.0, WIDTH, _label)
    assert placed[0].bar_left == 0.0


def test_a_second_passing_redraws_only_when_something_moves(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    strip = Timeline()
    root = BoxLayout(padding=12)
    root.add_widget(strip)
    screen.show(root)
    changes = 0
    before: list[object] = []
    made: set[object] = set()
    for second in range(30):
        strip.tell([HandsNeeded("G7", 600.0 - second, 60.0)], "", [(0.0, "now")])
        screen.frames()
        now = [(label, tuple(label.pos)) for label in strip.children]
        changes += before != now
        made.update(strip.children)
        before = now
    # 336 px for 1,800 s: a pixel is 5.4 s, so 30 s are 5 or 6 moves, and the first showing.
    assert 5 <= changes <= 7
    # Labels are moved, not made anew: the title, the tag and "now".
    assert len(made) == 3


def test_a_clash_is_named_and_an_empty_half_hour_says_so(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    strip = Timeline()
    root = BoxLayout(padding=12)
    root.add_widget(strip)
    screen.show(root)
    assert screen.texts() == ["next 30 minutes: no hands needed"]
    strip.tell(
        [HandsNeeded("G7", 240, 60), HandsNeeded("C1", 250, 60), HandsNeeded("Z9", 4000, 60)],
        "G7 and C1 clash 10:46",
    )
    screen.frames(6)
    assert {"G7", "C1", "G7 and C1 clash 10:46"} <= set(screen.texts())
    assert "Z9" not in screen.texts()
    assert screen.overlapping() == []
