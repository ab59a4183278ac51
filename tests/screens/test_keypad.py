"""The keypad: complete, each key at least 9 mm in portrait, usable by touch alone."""

from __future__ import annotations

import string
from collections.abc import Callable

import pytest
from harness import Screen
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout

from screens import theme
from screens.widgets.keypad import Keypad
from screens.widgets.keypad_keys import KINDS, Kind, columns_for, key_rows
from screens.words import say

NINE_MM_DP = 9.0 / 25.4 * 160.0
"""9 mm on the glass, 1 dp being 1/160 inch."""


@pytest.mark.parametrize(("kind", "columns"), [("tags", 5), ("tags", 10), ("names", 5), ("names", 10), ("figures", 3)])
def test_rows_are_full_and_end_with_done(kind: Kind, columns: int) -> None:
    rows = key_rows(kind, columns)
    assert all(sum(key.span for key in row) == columns for row in rows)
    assert rows[-1][-1].action == "done"
    keys = [key for row in rows for key in row]
    assert [key.action for key in keys if key.action] == ["erase", "done"]
    chars = [key.char for key in keys if key.char]
    assert len(chars) == len(set(chars))
    if kind == "tags":
        assert set(chars) == set(string.ascii_uppercase + string.digits + "-")


def test_columns_follow_the_width() -> None:
    assert columns_for("tags", 336, 57, 8) == 5
    assert columns_for("tags", 700, 57, 8) == 10
    assert columns_for("figures", 1280, 57, 8) == 3


@pytest.fixture
def typing(open_screen: Callable[..., Screen]) -> Callable[..., tuple[Screen, Keypad]]:
    def start(
        kind: Kind = "tags", width: float = 360, height: float = 640, scale: float = 1.0
    ) -> tuple[Screen, Keypad]:
        screen = open_screen(width, height, scale)
        pad = Keypad(kind=kind)
        root = BoxLayout(padding=12)
        root.add_widget(pad)
        screen.show(root)
        return screen, pad

    return start


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("width", "height"), [(360, 640), (412, 892), (1280, 800)])
@pytest.mark.parametrize("scale", [1.0, 1.3])
def test_every_key_is_large_enough_and_apart(
    typing: Callable[..., tuple[Screen, Keypad]], kind: Kind, width: float, height: float, scale: float
) -> None:
    screen, pad = typing(kind, width, height, scale)
    caps = list(pad.children)
    for cap in caps:
        assert min(cap.size) >= dp(NINE_MM_DP)
        assert cap.x >= 0
        assert cap.right <= width
        assert cap.y >= 0
        assert cap.top <= height
    for at, one in enumerate(caps):
        for other in caps[at + 1 :]:
            across = max(one.x, other.x) - min(one.right, other.right)
            upwards = max(one.y, other.y) - min(one.top, other.top)
            assert max(across, upwards) >= dp(theme.GAP_DP) - 0.01, f"{one.key} and {other.key} are too close"
    assert screen.clipped() == []
    assert screen.overlapping() == []


def test_there_is_room_above_the_keys_for_question_and_answer(
    typing: Callable[..., tuple[Screen, Keypad]],
) -> None:
    _, pad = typing("tags", 360, 640)
    assert 640 - pad.height - 24 >= 90


def test_typing_by_touch_alone(typing: Callable[..., tuple[Screen, Keypad]]) -> None:
    screen, pad = typing()
    typed: list[str] = []
    done: list[str] = []
    pad.bind(on_typed=lambda _, text: typed.append(text), on_done=lambda _, text: done.append(text))
    for key in ("B", "2", "3"):
        screen.tap(key)
    screen.tap(say("keypad.erase"))
    screen.tap(say("keypad.done"))
    assert typed == ["B", "B2", "B23", "B2"]
    assert done == ["B2"]
    assert pad.text == "B2"


def test_erase_on_nothing_and_a_full_text(typing: Callable[..., tuple[Screen, Keypad]]) -> None:
    screen, pad = typing("figures")
    pad.longest = 2
    screen.tap(say("keypad.erase"))
    assert pad.text == ""
    for key in ("2", "5", "7"):
        screen.tap(key)
    assert pad.text == "25"


def test_a_scanner_may_type_what_the_keys_type_and_nothing_else(
    typing: Callable[..., tuple[Screen, Keypad]],
) -> None:
    _, pad = typing()
    assert pad.press_char("G")
    assert pad.press_char("7")
    assert not pad.press_char("%")
    assert pad.text == "G7"


def test_names_have_a_space(typing: Callable[..., tuple[Screen, Keypad]]) -> None:
    screen, pad = typing("names")
    for key in ("R", say("keypad.space"), "O"):
        screen.tap(key)
    assert pad.text == "R O"
