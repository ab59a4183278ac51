"""A scope goes from receipt to storage by touches on the rendered screen alone; the record is what is looked at."""

from __future__ import annotations

from collections.abc import Callable

import harness
import pytest
import stage

# Another scope, so that the unit has used baths and strips before: what was given last is offered again in one tap.
OTHER = (stage.at("B2", "drying-air", stage.State.AIR_ON),)
# Taps beyond one for each accepted command: "Receive scope" by scan needs none, the end of the procedure is one.
EXTRA_TAPS = 3


def whole_cycle(at: stage.Stage) -> None:
    """Take B5 through its cycle: what a technician reads on the screen is what is tapped."""
    tap = at.tap
    at.scan("B5")
    at.scan("26-4471")
    tap("5 min ago")
    tap("Received, pre-cleaned")
    tap("Ready")
    tap("Taken apart")
    tap("Tight")
    tap("Pour fresh")
    tap("20 °C")
    for _ in range(3):
        tap("Clean")
    tap("Debris seen")
    for _ in range(4):
        tap("None seen")
    for _ in range(3):
        tap("Flushed")
    tap("20 °C")
    at.wait(60)
    tap("Lift out")
    tap("Rinsed")
    for _ in range(3):
        tap("Flushed")
    for _ in range(3):
        tap("Air pushed")
    tap("Clean")
    tap("Not due today")
    tap("Strip passes")
    tap("20 °C")
    at.wait(720)
    tap("Lift out")
    tap("Rinse started")
    for _ in range(3):
        at.wait(60)
        tap("Rinsed")
    for _ in range(3):
        tap("Flushed")
    for _ in range(3):
        tap("Air pushed")
    tap("70 %")
    tap("Air on")
    at.wait(600)
    tap("Still wet")
    at.wait(30)
    tap("Dry")
    tap("Another place")
    at.scan("CABINET 2")


def test_a_bronchoscope_cycle_by_touch_alone(open_screen: Callable[..., harness.Screen]) -> None:
    app = stage.bench(open_screen(412, 892), points=OTHER)
    before = len(app.lines())
    whole_cycle(app)
    lines = app.lines()[before:]
    assert [line["kind"] for line in lines] == [
        "receive", "look", "look", "look", "pour-bath", "look", "look", "look", "look",
        "pass", "pass", "pass", "pass", "pass", "count", "count", "count",
        "start", "lift", "count", "count", "count", "count", "count", "count", "count",
        "look", "skip", "strip-test", "start", "lift",
        "start", "count", "count", "count", "count", "count", "count", "count", "count", "count",
        "count", "start", "check", "check", "look",
    ]  # fmt: skip
    assert app.taps <= len(lines) + EXTRA_TAPS
    assert {line["by"] for line in lines} == {"joss"}
    assert {line["refs"]["case"] for line in lines if line["kind"] not in ("pour-bath",)} == {"26-4471"}
    ended = lines[-1]["data"]
    assert ended["ends"] == "completed"
    assert ended["place"] == "CABINET 2"
    scope = app.desk.unit.scopes["B5"]
    assert scope.last.outcome == "completed"
    assert scope.last.released_by == ""  # nobody has released it, and the app never does
    assert "B5" not in app.desk.unit.cycles
    assert any("not released" in text for text in app.screen.texts())


def test_the_contact_time_can_not_be_cut_short_by_touch(open_screen: Callable[..., harness.Screen]) -> None:
    """Contact of the OPA 0.55 % claim is 12 min (read-2nd in the shipped chemistry file): a second less is refused."""
    points = (stage.at("B2", "disinfectant-soak", stage.State.IN, ago_s=719),)
    app = stage.bench(open_screen(412, 892), points)
    app.go("steps", tag="B2")
    before = len(app.lines())
    app.tap("Lift out")  # 0.4 s missing still: the button is quiet
    assert len(app.lines()) == before
    assert app.desk.unit.cycles["B2"].running
    app.wait(0.4)
    app.tap("Lift out")
    assert app.lines()[-1]["kind"] == "lift"
    assert app.lines()[-1]["data"]["result"] == "full"


@pytest.mark.parametrize("size", [(360, 640, 1.3), (892, 412, 1.0)])
def test_the_same_taps_do_on_every_size(open_screen: Callable[..., harness.Screen], size: tuple[float, ...]) -> None:
    """Nothing that a step needs lies on a second leaf, and no text is clipped on the way."""
    app = stage.bench(open_screen(size[0], size[1], font_scale=size[2]), points=OTHER)
    faults: list[str] = []
    real, tried = app.settle, set()

    def settle() -> None:
        real()
        key = tuple(app.screen.texts())
        if key not in tried:
            tried.add(key)
            faults.extend(app.faults())

    app.settle = settle  # type: ignore[method-assign]
    whole_cycle(app)
    assert faults == []
