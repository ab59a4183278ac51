"""Drawings of steps: on their sheet, for every step that works on a part of the scope, beside the step's cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Callable

import harness
import stage
from stage import State, at

from data.library import shipped_protocol_texts
from screens.widgets.sketch import StepSketch
from screens.widgets.sketch_shapes import HIGH, SKETCHES, WIDE

Open = Callable[..., harness.Screen]


def test_every_step_that_works_on_a_part_has_a_drawing() -> None:
    """Brushing, wiping and flushing one named part; steps for all channels at once say all that a drawing could."""
    steps = {step["id"] for text in shipped_protocol_texts().values() for step in tomllib.loads(text)["step"]}
    parts = {step for step in steps if step.split("-")[0] in ("brush", "flush", "wipe")}
    parts -= {"flush-water", "flush-air", "wipe-dry"}
    assert len(parts) > 15
    assert parts - set(SKETCHES) == set()
    assert set(SKETCHES) - steps == set()


def test_nothing_is_drawn_beside_the_sheet() -> None:
    for name, sketch in SKETCHES.items():
        points = [*sketch.look]
        for line in (*sketch.work, *sketch.wide):
            assert len(line) % 2 == 0 and len(line) >= 4, name
            points += list(zip(line[::2], line[1::2], strict=True))
        assert points or sketch.under, name
        assert all(0 <= x <= WIDE and 0 <= y <= HIGH for x, y in points), name


def test_a_step_without_a_drawing_takes_no_room() -> None:
    assert StepSketch(step="a-step-of-the-unit").height == 0
    assert StepSketch(step="brush-tip").height > 90


def test_it_stands_on_the_page_of_its_step_and_not_where_there_is_no_room(open_screen: Open) -> None:
    points = (at("B2", "brush-tip", State.PASS),)
    app = stage.bench(open_screen(412, 892), points)
    app.go("steps", tag="B2")
    assert app.shell.page.blocks.sketch.parent is not None
    assert app.faults() == []
    low = stage.bench(open_screen(360, 640, font_scale=1.3), points)
    low.go("steps", tag="B2")
    assert low.shell.page.blocks.sketch.parent is None
