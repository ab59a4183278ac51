"""Every page of the app in its telling states, for tests that walk all of them. A page added later is walked by itself.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import gallery
import harness
import lead_scene
import stage
from reading import walk
from test_app_pictures import MADE, VISITS

from screens.bench.flow import Flow
from screens.widgets.leaves import Leaves

# Pages that the visits below show with what they need to be told.
_SHOWN_ELSEWHERE = ("bench", "steps", "receive", "cycle", "watch", "ledger")
_LEAVES_MOST = 12


def asking(kind: str) -> Callable[[stage.Stage], None]:
    """Give a visit to the typing page for a kind of value."""

    def show(app: stage.Stage) -> None:
        app.go("bench")
        app.shell.ask_text("Bath H1: which lot is on the label", kind, lambda value: None, "min")
        app.settle()

    return show


KEYS = {f"type-{kind}": asking(kind) for kind in ("number", "tag", "text", "name")}


def bench_states(screen: harness.Screen) -> Iterator[str]:
    """Put each state of the demonstration's bench on the screen, every leaf of it, and give its name."""
    app = stage.bench(screen)
    for name, visit in {**VISITS, **KEYS}.items():
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        visit(app)
        yield from _leaves(screen, name)
    keys = [key for key in app.shell._makers if key not in _SHOWN_ELSEWHERE]
    for key in keys:
        if app.shell.page is not None and app.shell.page.unfinished():
            app.shell.page.left()
        app.go(key)
        _finish(app.shell.page, screen)
        yield from _leaves(screen, key)
    for name, make in MADE.items():
        make(screen)
        yield from _leaves(screen, name)


def lead_states(screen: harness.Screen) -> Iterator[str]:
    """Put each state of the lead's pages on the screen, every leaf of it, and give its name."""
    lead_scene.Shown(screen, lead_scene.busy(), "watch")
    yield from _leaves(screen, "watch-busy")
    shown = lead_scene.Shown(screen, lead_scene.two_cycles(late=True), "ledger")
    yield from _leaves(screen, "ledger-two")
    shown.page._leaves.to_top()
    shown.settle()
    shown.page._leaves.to_top()
    shown.settle()
    shown.tap("C4")
    yield from _leaves(screen, "cycle")
    shown = lead_scene.Shown(screen, lead_scene.Scene(empty=True), "setup")
    for key in (
        "setup", "watch", "ledger", "setup-people", "setup-scopes", "setup-baths", "setup-strips", "setup-containers",
        "setup-container", "setup-chemistries", "setup-limits", "setup-limit", "setup-dilute",
    ):  # fmt: skip
        shown.go(key)
        yield from _leaves(screen, f"{key}-first")
    for key in ("setup-claim", "setup-confirm"):
        shown.go(key, claim="glut-24-25c")
        yield from _leaves(screen, key)


def widget_states(screen: harness.Screen) -> Iterator[str]:
    """Put each page of the gallery on the screen."""
    for name, make in gallery.PAGES.items():
        screen.show(make())
        yield f"gallery-{name}"


def _leaves(screen: harness.Screen, name: str) -> Iterator[str]:
    """Turn every column that has leaves through all of them."""
    yield name
    for number in range(1, _LEAVES_MOST):
        if not any(_turn(widget) for widget in list(walk(screen.root))):
            return
        screen.frames(3)
        yield f"{name}, leaf {number + 1}"


def _turn(widget: Any) -> bool:
    if isinstance(widget, Leaves) and widget.at + 1 < widget.count:
        widget.turn()
        return True
    if isinstance(widget, Flow) and widget.more > 0:
        widget.turn()
        return True
    return False


def _finish(page: Any, screen: harness.Screen) -> None:
    background = getattr(page, "background", None)
    if background is not None:
        background.finish()
        screen.frames(4)
