"""The wipe lock: a cloth ends nothing and does nothing; two targets in turn do; prompts go on meanwhile."""

from __future__ import annotations

from collections.abc import Callable

import harness
import pytest
import stage
from kivy.base import EventLoop
from test_bench import with_senses

from protocols.chunks import chunks
from screens.wipe import WITHIN_S, WipePage

Open = Callable[..., harness.Screen]


def locked(screen: harness.Screen) -> tuple[stage.Stage, WipePage]:
    app = stage.bench(screen)
    app.go("bench")
    app.tap("Wipe")
    page = app.shell.page
    assert isinstance(page, WipePage)
    return app, page


def middle(widget: object) -> tuple[float, float]:
    return widget.to_window(*widget.center)  # type: ignore[attr-defined]


@pytest.mark.parametrize("size", [(360, 640, 1.3), (1280, 800, 1.0)])
def test_two_targets_in_turn_unlock(open_screen: Open, size: tuple[float, ...]) -> None:
    app, page = locked(open_screen(size[0], size[1], font_scale=size[2]))
    assert app.faults() == []
    app.tap(page.targets[0])
    assert app.shell.page is page
    app.tap(page.targets[1])
    assert app.shell.page is not page


def test_the_second_alone_or_too_late_does_not(open_screen: Open) -> None:
    app, page = locked(open_screen(412, 892))
    app.tap(page.targets[1])
    app.tap(page.targets[0])
    app.wait(WITHIN_S + 1)
    app.tap(page.targets[1])
    assert app.shell.page is page


def test_a_cloth_unlocks_nothing_and_gives_no_command(open_screen: Open) -> None:
    app, page = locked(open_screen(412, 892))
    before = len(app.lines())
    (x1, y1), (x2, y2) = middle(page.targets[0]), middle(page.targets[1])
    for _ in range(3):
        # One stroke over both targets, a stroke within each, two fingers at once, a rub beside them.
        for start, end in (((x1, y1), (x2, y2)), ((x1, y1), (x1 + 30, y1)), ((x2, y2), (x2 - 30, y2))):
            finger = harness.Finger(*start).down()
            finger.move(*end)
            app.screen.frames()
            finger.up()
        one, other = harness.Finger(x1, y1).down(), harness.Finger(x2, y2).down()
        one.up()
        other.up()
        app.screen.tap_at(200, 500)
        app.settle()
    app.scan("B5")
    app.escape()
    assert app.shell.page is page
    assert len(app.lines()) == before


def test_no_scan_ends_it_not_even_another_handhelds_code(open_screen: Open) -> None:
    app, page = locked(open_screen(412, 892))
    app.scan(chunks(b"any packet")[0])
    assert app.shell.page is page


def test_nothing_that_comes_from_elsewhere_is_shown_in_its_place(open_screen: Open) -> None:
    """A call that is opened from outside the app, an answer that arrives late: the cloth would press what they show."""
    app, page = locked(open_screen(412, 892))
    app.go("ledger")
    assert app.shell.page is page
    app.shell.confirm("Sure?", "Yes", lambda: None)
    assert app.shell.page is page
    for target in page.targets:
        app.tap(target)
    assert app.shell.page.key == "bench"


def test_a_finger_that_left_unseen_does_not_lock_it_for_good(open_screen: Open) -> None:
    app, page = locked(open_screen(412, 892))
    lost = harness.Finger(*middle(page.targets[0])).down()
    EventLoop.me_list.remove(lost)  # as when the app is paused under a hand: no end of the touch ever comes
    app.tap(page.targets[0])
    app.tap(page.targets[1])
    assert app.shell.page is not page


def test_a_touch_beside_the_second_begins_again(open_screen: Open) -> None:
    app, page = locked(open_screen(412, 892))
    app.tap(page.targets[0])
    app.screen.tap_at(200, 450)
    app.tap(page.targets[1])
    assert app.shell.page is page


def test_prompts_go_on_and_the_most_urgent_scope_is_named(open_screen: Open) -> None:
    app, _ = locked(open_screen(412, 892))
    assert any(text.startswith("G3  Rinse now, OVER LIMIT 6:05") for text in app.screen.texts())
    senses, _ = with_senses(app)
    app.wait(1)
    assert senses["chime"].calls
    assert any("OVER LIMIT 6:06" in text for text in app.screen.texts())
