"""Turning the screen loses nothing: what is half typed, the page shown and the leaf of its answers stay."""

from __future__ import annotations

import ast
from collections.abc import Callable
from pathlib import Path

import harness
import pytest
import stage
from kivy.core.window import Window

import screens

Open = Callable[..., harness.Screen]
TURNS = [((412, 892), (892, 412)), ((800, 1280), (1280, 800))]


def turn(app: stage.Stage, size: tuple[int, int]) -> None:
    """Give the window another shape, as turning the handheld does."""
    Window.size = size
    app.settle()
    app.shell.tick()
    app.settle()


@pytest.mark.parametrize(("upright", "aside"), TURNS)
def test_what_is_half_typed_stays(open_screen: Open, upright: tuple[int, int], aside: tuple[int, int]) -> None:
    app = stage.bench(open_screen(*upright))
    app.go("bench")
    app.tap("Receive scope")
    app.tap("B5")
    for key in "26-4":
        app.tap(key)
    for size in (aside, upright, aside):
        turn(app, size)
        assert "26-4" in app.screen.texts()
        assert app.faults() == []
    app.tap("7")
    app.tap("Done")
    assert app.shell.page_of("receive").answers.case == "26-47"


@pytest.mark.parametrize(("upright", "aside"), TURNS)
def test_the_page_of_a_scope_stays_and_its_button_works(
    open_screen: Open, upright: tuple[int, int], aside: tuple[int, int]
) -> None:
    app = stage.bench(open_screen(*upright))
    app.go("steps", tag="G9")
    turn(app, aside)
    assert app.shell.page.key == "steps"
    app.tap("Flushed")
    turn(app, upright)
    assert "1 of 3 done" in app.screen.texts()
    assert app.lines()[-1]["subject"] == "G9"


def test_a_tablet_shows_the_bench_beside_every_page_and_upright_alone(open_screen: Open) -> None:
    app = stage.bench(open_screen(1280, 800))
    app.go("steps", tag="G9")
    assert [page.key for page in app.shell._room.pages] == ["bench", "steps"]
    app.go("bench")
    assert [page.key for page in app.shell._room.pages] == ["bench", "watch"]
    turn(app, (800, 1280))
    assert [page.key for page in app.shell._room.pages] == ["bench"]
    turn(app, (1280, 800))
    assert [page.key for page in app.shell._room.pages] == ["bench", "watch"]


def test_no_page_asks_for_the_keyboard_of_the_system() -> None:
    """Kivy's TextInput is what would open it; every text is typed on the app's own keys or scanned."""
    for path in Path(screens.__path__[0]).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            named = node.module if isinstance(node, ast.ImportFrom) else ""
            assert named != "kivy.uix.textinput", path.name
            assert not (isinstance(node, ast.Attribute) and node.attr == "request_keyboard"), path.name


def test_a_message_moves_nothing_sideways_on_a_tablet(open_screen: Open) -> None:
    """It takes some height of the pane; a button that then stands elsewhere would be missed with the next press."""
    app = stage.bench(open_screen(1280, 800))
    app.go("steps", tag="G9")
    button = app.screen.find("Flushed")
    before = button.to_window(*button.center)[0]
    app.scan("Z99")
    assert any("Z99" in text for text in app.screen.texts())
    button = app.screen.find("Flushed")
    assert button.to_window(*button.center)[0] == pytest.approx(before, abs=1)
