"""How Bench, Steps and Receive look: golden pictures of telling states, and no text cut off anywhere, at any size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import goldens
import harness
import pytest
import stage
from stage import BENCH, State, at, bench

from screens.words import say

Open = Callable[..., harness.Screen]
LATE = (at("B2", "disinfectant-soak", State.IN, ago_s=1500),)
LEAKING = (at("B2", "leak-test", State.LOOK),)


def waiting(screen: harness.Screen) -> stage.Stage:
    """A scope lifted late, rinsed, and waiting for a lead."""
    app = bench(screen, LATE)
    give = app.desk.give
    give("lift", "B2", {"temp_c": 21})
    app.clock.advance(5)
    give("start", "B2")
    for _ in range(3):
        app.clock.advance(61)
        give("count", "B2", {"fresh": True, "water": "sterile"})
    for _ in range(3):
        app.clock.advance(5)
        give("count", "B2", {"fresh": True, "water": "sterile"})
    for _ in range(3):
        app.clock.advance(5)
        give("count", "B2")
    app.go("steps", tag="B2")
    assert app.shell.lane("B2").state is State.WAITING
    return app


def leaking(screen: harness.Screen, steps: int = 0) -> stage.Stage:
    """A scope in the leak branch."""
    app = bench(screen, LEAKING)
    app.desk.give("look", "B2", {"outcome": "leak"})
    for outcome in ("out-of-water", "done")[:steps]:
        app.clock.advance(5)
        app.desk.give("look", "B2", {"outcome": outcome})
    app.go("steps", tag="B2")
    return app


def on_bench(app: stage.Stage) -> None:
    app.go("bench")


def on_steps(tag: str) -> Callable[[stage.Stage], None]:
    return lambda app: app.go("steps", tag=tag)


def asked(app: stage.Stage) -> None:
    app.go("steps", tag="G7")
    app.tap(say("wrong.title"))


def sure(app: stage.Stage) -> None:
    app.go("bench")
    app.shell.confirm("B5 leaks: it goes into no more liquid and out of service.", "It leaks", lambda: None)
    app.settle()


def received(app: stage.Stage) -> None:
    app.go("bench")
    app.scan("B5")
    app.scan("26-4471")
    app.tap(say("receive.ago", minutes=5))


def answered(app: stage.Stage) -> None:
    app.go("steps", tag="G9")
    app.shell.find("Z99")
    app.settle()


# On the bench of the demonstration, one after the other.
VISITS: dict[str, Callable[[stage.Stage], None]] = {
    "bench": on_bench,
    "steps-over": on_steps("G3"),
    "steps-ready": on_steps("B2"),
    "steps-soaking": on_steps("G7"),
    "steps-drying": on_steps("B4"),
    "steps-machine": on_steps("D6"),
    "steps-flushing": on_steps("G9"),
    "wrong": asked,
    "sure": sure,
    "receive": lambda app: app.go("receive"),
    "receive-last": received,
    "steps-answer": answered,
}
# Each on a bench of its own.
MADE: dict[str, Callable[[harness.Screen], stage.Stage]] = {
    "bench-empty": lambda screen: bench(screen, points=()),
    "steps-waiting": waiting,
    "steps-leak": leaking,
    "steps-leak-tag": lambda screen: leaking(screen, 2),
}
DRAWN = [
    *((name, "enamel") for name in ("bench", "steps-over", "steps-ready", "steps-flushing", "receive-last")),
    *((name, "enamel") for name in ("bench-empty", "steps-waiting")),
    *((name, "night") for name in ("bench", "steps-over", "steps-soaking")),
]
SIZES = ((360, 640, 1.0), (360, 640, 1.3), (412, 892, 1.3), (892, 412, 1.0))


@pytest.mark.parametrize(("name", "look"), DRAWN, ids=lambda part: part)
def test_it_looks_as_somebody_agreed(open_screen: Open, tmp_path: Path, name: str, look: str) -> None:
    screen = open_screen(412, 892, look=look)
    if name in MADE:
        app = MADE[name](screen)
    else:
        app = bench(screen)
        VISITS[name](app)
    goldens.check(f"app-{name}-{look}", app.screen.picture(), tmp_path)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: "x".join(map(str, size)))
def test_no_text_is_cut_off_or_lies_over_another(open_screen: Open, size: tuple[float, ...]) -> None:
    faults = []
    screen = open_screen(size[0], size[1], font_scale=size[2])
    app = bench(screen)
    for name, visit in VISITS.items():
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        visit(app)
        faults += [f"{name}: {fault}" for fault in app.faults()]
    for name, make in MADE.items():
        faults += [f"{name}: {fault}" for fault in make(screen).faults()]
    assert faults == []


def test_a_tablet_on_its_side_shows_the_bench_whole(open_screen: Open) -> None:
    app = bench(open_screen(1280, 800))
    app.go("bench")
    assert app.faults() == []


@pytest.mark.parametrize("size", SIZES[1:3], ids=lambda size: "x".join(map(str, size)))
def test_what_is_pressed_in_a_cycle_is_15_mm_high(open_screen: Open, size: tuple[float, ...]) -> None:
    """94.5 dp are 15 mm at 160 dp to the inch; the bar that turns a leaf gives no command and may be smaller."""
    app = bench(open_screen(size[0], size[1], font_scale=size[2]))
    for tag in (point.place.tag for point in BENCH):
        app.go("steps", tag=tag)
        page = app.shell.page
        heights = [button.height for button in (*page.blocks.act._buttons, page.undo, page.wrong)]
        assert min(heights) >= 94.5
