"""A still shows what it holds, pixel for pixel, and draws it only when something in it has changed."""

from __future__ import annotations

from collections.abc import Callable

import stage
from harness import Screen
from kivy.graphics import Callback
from kivy.metrics import dp
from kivy.uix.anchorlayout import AnchorLayout
from kivy.uix.boxlayout import BoxLayout
from PIL import ImageChops

from screens.widgets.button import BigButton
from screens.widgets.lane import Lane
from screens.widgets.still import Still
from screens.widgets.text import Words


def _part() -> BoxLayout:
    part = BoxLayout(orientation="vertical", size_hint_y=None, height=dp(140))
    part.add_widget(BigButton("Lift out", look="ink"))
    part.add_widget(Words("lift out 10:55, limit 11:04", role="quiet"))
    return part


def test_a_still_looks_like_what_it_holds(open_screen: Callable[..., Screen]) -> None:
    pictures = []
    for wrapped in (False, True):
        screen = open_screen(360, 640)
        root, part = AnchorLayout(padding=dp(7)), _part()
        root.add_widget(Still(part) if wrapped else part)
        screen.show(root)
        pictures.append(screen.picture())
    extremes = ImageChops.difference(*(picture.convert("RGB") for picture in pictures)).getextrema()
    assert max(most for _, most in extremes) <= 2


def test_a_passing_second_draws_no_lane_anew_but_its_time(open_screen: Callable[..., Screen]) -> None:
    shown = stage.bench(open_screen(412, 892))
    shown.go("bench")
    lanes = [row for row in shown.shell.page_of("bench").flow.children if isinstance(row, Lane) and row.level == "calm"]
    drawn: list[str] = []
    for lane in lanes:
        with lane._plate.canvas.after:
            Callback(lambda _, tag=lane.tag: drawn.append(tag))
    shown.settle()
    assert len(lanes) >= 2 and set(drawn) >= {lane.tag for lane in lanes}
    drawn.clear()
    before = [lane.figure for lane in lanes]
    shown.wait(1)
    assert [lane.figure for lane in lanes] != before
    assert drawn == []


def test_a_change_within_a_still_is_seen_at_once(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    root, words = AnchorLayout(), Words("B4", step="tag", bold=True)
    root.add_widget(Still(words))
    screen.show(root)
    before = screen.picture()
    words.text = "B7"
    screen.frames(2)
    assert screen.picture().tobytes() != before.tobytes()
    assert screen.texts() == ["B7"]
