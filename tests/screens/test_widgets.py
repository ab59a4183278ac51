"""The widgets as drawn: whole words at every size, the right shapes and colours, golden pictures in both
themes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import gallery
import goldens
import pytest
from harness import HarnessError, Screen
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget
from PIL import Image

from screens import theme
from screens.widgets.button import BigButton
from screens.widgets.coil import Coil
from screens.widgets.figure import Figure, _picture
from screens.widgets.lane import Lane
from screens.widgets.press import Pressable
from screens.widgets.state_mark import StateMark
from screens.widgets.step_dots import StepDots, UnknownKindOfDot
from screens.widgets.tabs import Tab, Tabs

SIZES = [(360, 640), (412, 892)]
CYCLE_MM, OTHER_MM = 15.0, 9.0


def _mm(length_px: float) -> float:
    return length_px * 25.4 / 160.0  # the harness draws at one pixel to the dp, 1 dp being 1/160 inch


def _everything(widget: Widget) -> list[Widget]:
    return [widget, *(below for child in widget.children for below in _everything(child))]


@pytest.mark.parametrize("look", list(theme.THEMES))
@pytest.mark.parametrize("name", list(gallery.PAGES))
def test_pages_look_as_they_were_agreed(
    open_screen: Callable[..., Screen], tmp_path: Path, name: str, look: str
) -> None:
    screen = open_screen(360, 640, look=look)
    screen.show(gallery.PAGES[name]())
    goldens.check(f"{name}-{look}", screen.picture(), tmp_path)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("scale", [1.0, 1.3])
@pytest.mark.parametrize("name", list(gallery.PAGES))
def test_no_text_is_clipped_or_lies_over_another(
    open_screen: Callable[..., Screen], name: str, size: tuple[int, int], scale: float
) -> None:
    # Taller than the handheld where the page holds more than one screen of widgets: what counts here is the
    # width.
    screen = open_screen(size[0], 1500, scale)
    screen.show(gallery.PAGES[name]())
    assert screen.clipped() == []
    assert screen.overlapping() == []


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("scale", [1.0, 1.3])
def test_everything_that_is_pressed_is_large_enough(
    open_screen: Callable[..., Screen], size: tuple[int, int], scale: float
) -> None:
    screen = open_screen(size[0], 1500, scale)
    for name in ("lanes", "step", "buttons"):
        root = screen.show(gallery.PAGES[name]())
        for widget in _everything(root):
            if isinstance(widget, Pressable):
                assert _mm(min(widget.size)) >= OTHER_MM
            if isinstance(widget, Lane):
                assert _mm(widget.height) >= CYCLE_MM
    main = BigButton("Flushed")
    screen.show(gallery.column(main))
    assert _mm(main.height) >= CYCLE_MM


def test_a_button_grows_with_its_words(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640, 1.3)
    button = BigButton("Lift out of the disinfectant bath and let it drain", "bath H4, soaked 12:00 of 12:00")
    screen.show(gallery.column(button))
    assert button.height > dp(theme.TARGET_CYCLE_DP)
    assert screen.clipped() == []
    tall = button.height
    button.set_words("Lift")
    screen.frames(4)
    assert dp(theme.TARGET_CYCLE_DP) <= button.height < tall


def _colours(image: Image.Image) -> set[str]:
    found = image.getcolors(image.width * image.height) or []
    return {"".join(f"{channel:02X}" for channel in colour) for _, colour in found}


def _coil_picture(screen: Screen, **state: object) -> Image.Image:
    coil = Coil(size_hint=(None, None), size=(dp(200), dp(220)), **state)
    screen.show(gallery.column(coil))
    return screen.picture()


def test_a_coil_tells_its_state_by_colour_and_word(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    filling = _colours(_coil_picture(screen, share=0.5))
    assert {theme.colour("track"), theme.colour("fill")} <= filling
    assert screen.texts() == []
    ready = _colours(_coil_picture(screen, state="ready"))
    assert theme.colour("ready") in ready
    assert not {theme.colour("track"), theme.colour("fill"), theme.colour("over_text")} & ready
    over = _colours(_coil_picture(screen, state="over"))
    assert theme.colour("over_text") in over
    assert screen.texts() == ["OVER"]


def test_a_coil_tells_its_state_and_its_liquid_by_shape_alone(open_screen: Callable[..., Screen]) -> None:
    """With colour taken away, no two states and no two liquids give the same picture."""
    screen = open_screen(360, 640)
    shapes = {}
    for liquid in ("detergent", "disinfectant", "air", "water"):
        for state in ("filling", "ready", "over"):
            grey = _coil_picture(screen, liquid=liquid, state=state, share=1.0).convert("L")
            shapes[liquid, state] = grey.point(lambda level: 255 * (level > 225))
    names = list(shapes)
    for at, one in enumerate(names):
        for other in names[at + 1 :]:
            differs = goldens.share_that_differs(shapes[one].convert("RGB"), shapes[other].convert("RGB"))
            assert differs > 0.0008, f"{one} and {other} look alike without colour"


def test_a_coil_fills_from_the_inside_out(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    filled = []
    for share in (0.1, 0.4, 0.7, 1.0):
        image = _coil_picture(screen, liquid="water", share=share)
        wanted = tuple(int(theme.colour("fill")[at : at + 2], 16) for at in (0, 2, 4))
        filled.append(sum(count for count, colour in image.getcolors(300_000) if colour == wanted))
    assert filled == sorted(filled)
    assert filled[1] == pytest.approx(filled[3] * 0.4, rel=0.15)
    outer = _coil_picture(screen, liquid="water", share=0.2)
    middle = outer.getpixel((12 + 100, 12 + 110))
    assert middle is not None


def test_a_coil_is_not_drawn_again_while_nothing_visible_moves(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    coil = Coil(size_hint=(None, None), size=(dp(76), dp(76)), share=0.5)
    screen.show(gallery.column(coil))
    line = coil._mesh
    before = list(line.vertices)
    coil.share = 0.5005
    screen.frames()
    assert list(line.vertices) == before
    coil.share = 0.52
    screen.frames()
    assert list(line.vertices) != before


def test_a_mark_that_nobody_set_says_not_disinfected(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    mark = StateMark()
    screen.show(gallery.column(mark))
    assert screen.texts() == ["NOT DISINFECTED"]
    released = theme.colour("released")
    for kind, words in (("disinfected", "DISINFECTED, NOT RELEASED"), ("released", "RELEASED")):
        assert released not in _colours(screen.picture())
        mark.kind = kind
        screen.frames(4)
        assert screen.texts() == [words]
    assert released in _colours(screen.picture())


def test_filled_and_open_squares_differ_without_colour(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    inside = {}
    for kind in ("not_disinfected", "disinfected"):
        mark = StateMark(kind=kind)
        screen.show(gallery.column(mark))
        inside[kind] = screen.picture().getpixel((int(mark.x) + 6, 640 - int(mark.center_y)))
    ink, ground = (tuple(int(theme.colour(role)[at : at + 2], 16) for at in (0, 2, 4)) for role in ("ink", "ground"))
    assert inside == {"not_disinfected": ink, "disinfected": ground}


def test_figures_in_a_lane_do_not_jump(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    lane = Lane(tag="G7", family="gastro", step="Soak, detergent", figure="3:36")
    screen.show(gallery.column(lane))
    places = set()
    for figure in ("3:35", "1:11", "4:44", "0:08"):
        lane.figure = figure
        screen.frames(3)
        label = screen.find(figure)
        spots = tuple((spot.pos, spot.size) for spot in label._spots)
        places.add((label.x, label.y, label.text_size_px, spots, lane.height))
    assert len(places) == 1


def test_a_figure_shows_what_it_says_and_renders_nothing_twice(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    figure = Figure("3:36")
    screen.show(gallery.column(figure))
    first = screen.picture()
    for text in ("3:35", "12:00", "OVER 6:05", "1:04:36 and much more than fits"):
        figure.text = text
        screen.frames(2)
        assert screen.clipped() == []
        assert goldens.share_that_differs(first, screen.picture()) > 0.0004
    figure.text = "3:36"
    screen.frames(2)
    rendered = _picture.cache_info().misses
    assert goldens.share_that_differs(first, screen.picture()) == 0.0
    figure.text = "3:35"
    screen.frames(2)
    assert _picture.cache_info().misses == rendered


def test_tabs_choose_by_touch_and_keep_one_type_size(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640, 1.3)
    tabs = Tabs([(key, key.title()) for key in ("bench", "watch", "ledger", "send", "setup")])
    tabs.set_words("watch", "Watch 12")
    chosen: list[str] = []
    tabs.bind(on_choose=lambda _, key: chosen.append(key))
    root = BoxLayout(orientation="vertical")
    root.add_widget(Widget())
    root.add_widget(tabs)
    screen.show(root)
    tabs.chosen = "bench"
    screen.frames(3)
    screen.tap("Ledger")
    assert chosen == ["ledger"]
    assert len({label.font_size for label in screen.shown_labels()}) == 1
    assert [tab.key for tab in _everything(tabs) if isinstance(tab, Tab) and tab.chosen] == ["bench"]
    assert screen.clipped() == []


def test_an_unknown_dot_is_refused(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(360, 640)
    with pytest.raises(UnknownKindOfDot, match="maybe"):
        screen.show(gallery.column(StepDots(kinds=["done", "maybe"])))


def test_lanes_and_buttons_are_pressed_once_each(open_screen: Callable[..., Screen]) -> None:
    screen = open_screen(412, 892)
    root = screen.show(gallery.lanes())
    pressed: list[str] = []
    for lane in _everything(root):
        if isinstance(lane, Lane):
            lane.bind(on_command=lambda which: pressed.append(which.tag))
    screen.tap("B2")
    screen.tap("Soak, disinfectant")
    assert pressed == ["B2", "C1"]
    with pytest.raises(HarnessError, match="not on the screen"):
        screen.tap("Receive scope")
