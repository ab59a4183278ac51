"""Memory: observers and widgets stay as many over 1,000 changes of the page and over 24 hours of looks.

Counted, not measured: what Kivy leaks are bindings and widgets that nothing shows any more. How much memory a process
takes is measured by `tests/bench/bench_screens.py`, by hand.
"""

from __future__ import annotations

import gc
from collections.abc import Callable

import harness
import stage
from kivy.graphics import Mesh, Rectangle
from kivy.uix.widget import Widget
from reading import walk
from stage import State, at

Open = Callable[..., harness.Screen]
ROUND = ("bench", "watch", "steps", "ledger", "receive", "setup", "send", "setup-handheld", "setup-baths", "setup-unit")
PROPERTIES = ("pos", "size", "height", "width", "text", "parent", "opacity", "disabled")


def counted(app: stage.Stage) -> dict[str, int]:
    """Count everything that a leak would add to: widgets alive, observers of the shell, callbacks, shapes, readings."""
    gc.collect()
    # By type: a weak reference in the list would answer for what it referred to.
    alive = [type(thing) for thing in gc.get_objects()]
    shown = [app.shell, *(page for page in app.shell._pages.values())]
    observers = sum(
        len(widget.get_property_observers(name))
        for root in shown
        for widget in walk(root)
        for name in PROPERTIES
        if widget.property(name, quiet=True) is not None
    )
    return {
        "widgets": sum(1 for kind in alive if issubclass(kind, Widget)),
        "observers": observers,
        "shapes": sum(1 for kind in alive if issubclass(kind, Rectangle | Mesh)),
        "beats": len(app.shell.on_beat) + len(app.shell.on_look),
    }


def around(app: stage.Stage, rounds: int) -> None:
    for _ in range(rounds):
        for key in ROUND:
            app.shell.go(key, **({"tag": "G7"} if key == "steps" else {}))
            harness.finish_reading(app.shell.page)
            app.screen.frames(1)


def test_a_thousand_changes_of_the_page_leave_nothing_behind(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    app.screen.drawing = False
    around(app, 3)
    before = counted(app)
    around(app, 100)
    after = counted(app)
    assert {name: after[name] - count for name, count in before.items() if abs(after[name] - count) > 3} == {}


def test_questions_that_come_and_go_leave_nothing_behind(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    app.screen.drawing = False

    def ask() -> None:
        app.shell.go("steps", tag="G7")
        app.shell.ask_text("Which machine", "tag", lambda text: None)
        app.screen.frames(1)
        app.shell.confirm("Really?", "Yes", lambda: None)
        app.screen.frames(1)
        app.shell.go("bench")
        if app.shell.asks:
            app.shell.close_over(app.shell.page)
        app.screen.frames(1)

    for _ in range(3):
        ask()
    before = counted(app)
    for _ in range(60):
        ask()
    after = counted(app)
    assert {name: after[name] - count for name, count in before.items() if abs(after[name] - count) > 3} == {}


def test_a_day_of_looks_leaves_nothing_behind(open_screen: Open) -> None:
    """24 hours: the first two until everything that can is past its limit, 20 min by seconds, the rest by minutes."""
    points = (at("B2", "drying-air", State.AIR_ON), at("G7", "disinfectant-soak", State.IN, protocol="gastroscope"))
    app = stage.bench(open_screen(412, 892), points)
    app.screen.drawing = False
    app.go("bench")
    look(app, 60, 120)
    before = counted(app)
    look(app, 1, 1200)
    look(app, 60, 1300)
    after = counted(app)
    assert {name: after[name] - count for name, count in before.items() if abs(after[name] - count) > 3} == {}


def look(app: stage.Stage, seconds: float, times: int) -> None:
    for _ in range(times):
        app.clock.advance(seconds)
        app.shell.tick()
        app.screen.frames(1)
