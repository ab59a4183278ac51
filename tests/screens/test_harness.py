"""The harness itself: it draws for real, and notices blank, clipped and overlapping screens."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import goldens
import harness
import pytest
from harness import HarnessError, Screen
from kivy.core.window import Window
from kivy.metrics import dp, sp
from kivy.uix.floatlayout import FloatLayout
from kivy.uix.label import Label
from kivy.uix.widget import Widget
from PIL import Image, ImageDraw

HERE = Path(__file__).parent


def test_a_real_driver_is_drawing() -> None:
    assert harness.check_renders()
    assert os.environ["SDL_VIDEODRIVER"] == "offscreen"
    assert os.environ.get("KIVY_GL_BACKEND") != "mock"


@pytest.mark.parametrize(("width", "height", "density"), [(360, 640, 1), (412, 892, 1), (1280, 800, 1), (360, 640, 2)])
def test_the_screen_has_the_size_asked_for(
    open_screen: Callable[..., Screen], width: int, height: int, density: int
) -> None:
    screen = open_screen(width, height, density=density)
    root = screen.show(FloatLayout())
    assert tuple(root.size) == (width * density, height * density)
    assert dp(10) == 10 * density
    root.add_widget(
        Label(text="far corner", pos_hint={"right": 1, "top": 1}, size_hint=(None, None), color=(0, 0, 0, 1))
    )
    screen.frames(3)
    image = screen.picture()
    assert image.size == (width * density, height * density)
    corner = image.crop((image.width - 100 * density, 0, image.width, 100 * density))
    assert not harness.is_blank(corner), "also what lies beyond the size of a former screen is drawn"


def test_type_size_follows_the_scale(open_screen: Callable[..., Screen]) -> None:
    open_screen(360, 640, 1.3)
    assert sp(10) == pytest.approx(13)
    open_screen(360, 640)
    assert sp(10) == pytest.approx(10)


def test_a_blank_screen_is_an_error(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    screen.show(Widget())
    with pytest.raises(HarnessError, match="blank"):
        screen.picture()


def test_a_screen_too_large_is_an_error(open_screen: Callable[..., Screen]) -> None:
    with pytest.raises(HarnessError, match="does not fit"):
        open_screen(1280, 800, density=2)


def test_clipped_and_overlapping_texts_are_named(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    root = FloatLayout()
    for text, pos in (("one text", (20, 300)), ("another text", (30, 305)), ("over the edge", (330, 100))):
        root.add_widget(Label(text=text, pos=pos, size=(120, 30), size_hint=(None, None), color=(0, 0, 0, 1)))
    root.add_widget(Label(text="Unbreakable", pos=(20, 500), size=(50, 80), text_size=(50, 80), size_hint=(None, None)))
    screen.show(root)
    assert screen.overlapping() == ["'one text' and 'another text' lie over each other"]
    faults = screen.clipped()
    assert len(faults) == 2
    assert "over the edge" in faults[0]
    assert "Unbreakable" in faults[1]


def test_hidden_and_far_texts_are_not_found(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    root = FloatLayout()
    root.add_widget(Label(text="hidden", opacity=0))
    root.add_widget(Label(text="far away", pos=(2000, 0), size=(100, 40), size_hint=(None, None)))
    root.add_widget(Label(text="here", color=(0, 0, 0, 1)))
    screen.show(root)
    assert screen.texts() == ["here"]
    with pytest.raises(HarnessError, match="hidden"):
        screen.find("hidden")


def _page(text: str) -> Image.Image:
    image = Image.new("RGB", (360, 640), "white")
    ImageDraw.Draw(image).text((40, 100), text, fill="black", font_size=40)
    return image


def test_a_golden_picture_fails_for_one_changed_figure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(goldens, "FOLDER", tmp_path / "golden")
    monkeypatch.setattr(goldens, "REGENERATE", False)
    with pytest.raises(goldens.GoldenMissing, match="time"):
        goldens.check("time", _page("3:36"), tmp_path)
    monkeypatch.setattr(goldens, "REGENERATE", True)
    goldens.check("time", _page("3:36"), tmp_path)
    monkeypatch.setattr(goldens, "REGENERATE", False)
    goldens.check("time", _page("3:36"), tmp_path)
    with pytest.raises(AssertionError, match="differs"):
        goldens.check("time", _page("3:38"), tmp_path)
    assert (tmp_path / "time.png").exists(), "the picture found is left to be looked at"


def test_without_a_driver_the_tests_fail_and_are_not_skipped(tmp_path: Path) -> None:
    """With the mock backend, which draws nothing, opening a screen is an error."""
    script = (
        "import os, sys; sys.path[:0] = [sys.argv[1], sys.argv[2]]\n"
        "import harness\n"
        "os.environ['KIVY_GL_BACKEND'] = 'mock'\n"
        "harness.glGetString = lambda name: b''\n"
        "try:\n    harness.open_screen()\n"
        "except harness.HarnessError as error:\n    print('refused:', error)\n"
    )
    root = HERE.parents[1]
    done = subprocess.run(
        [sys.executable, "-c", script, str(HERE), str(root)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert "refused: OpenGL answers no version" in done.stdout, done.stderr


def test_the_window_is_one_and_the_same(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    screen.show(Label(text="first", color=(0, 0, 0, 1)))
    screen = open_screen(412, 892)
    assert Window.children == []
    assert screen.texts() == []
