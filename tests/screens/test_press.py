"""One press, one command: whatever number of fingers, and however a wet glove bounces."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from harness import Finger, Screen
from kivy.uix.boxlayout import BoxLayout

from screens.widgets.button import BigButton
from screens.widgets.press import BOUNCE_S, PressSequence


def test_first_finger_gives_the_command_and_others_none() -> None:
    press = PressSequence()
    press.down("thumb", 0.0)
    press.down("drop", 0.02)
    assert press.up("drop", True, 0.1) is False
    assert press.up("thumb", True, 0.2) is True
    assert not press.under_way


def test_a_finger_that_comes_while_another_stays_gives_no_second_command() -> None:
    press = PressSequence()
    press.down("thumb", 0.0)
    press.down("palm", 0.1)
    assert press.up("thumb", True, 0.3) is True
    press.down("thumb again", 1.0)
    assert press.up("thumb again", True, 1.2) is False, "the palm never left: still the same press"
    assert press.up("palm", True, 1.3) is False
    press.down("thumb", 2.0)
    assert press.up("thumb", True, 2.1) is True


def test_a_bounce_is_the_same_press_and_a_later_tap_is_not() -> None:
    press = PressSequence()
    press.down("one", 0.0)
    assert press.up("one", True, 0.1) is True
    press.down("bounce", 0.1 + BOUNCE_S / 2)
    assert press.up("bounce", True, 0.1 + BOUNCE_S) is False
    press.down("next", 0.5)
    assert press.up("next", True, 0.6) is True


def test_a_clock_set_back_does_not_lock_the_button() -> None:
    press = PressSequence()
    press.down("one", 1000.0)
    assert press.up("one", True, 1000.1) is True
    press.down("two", 10.0)
    assert press.up("two", True, 10.1) is True


def test_sliding_off_gives_none_and_a_vanished_finger_does_not_lock() -> None:
    press = PressSequence()
    press.down("one", 0.0)
    assert press.up("one", False, 0.5) is False
    press.down("lost", 1.0)
    press.keep_only([])
    press.down("two", 2.0)
    assert press.up("two", True, 2.1) is True
    assert press.up("stranger", True, 3.0) is False


@pytest.fixture
def pressed(open_screen: Callable[..., Screen]) -> tuple[Screen, BigButton, list[str]]:
    screen = open_screen(360, 640)
    button = BigButton("Flushed", "2 of 3 done, 20 mL each")
    commands: list[str] = []
    button.bind(on_command=lambda _: commands.append("flushed"))
    root = BoxLayout(orientation="vertical", padding=12)
    root.add_widget(button)
    screen.show(root)
    return screen, button, commands


def test_two_fingers_on_a_real_button_give_one_command(pressed: tuple[Screen, BigButton, list[str]]) -> None:
    screen, button, commands = pressed
    one, two = Finger(*button.center), Finger(button.center_x + 60, button.center_y + 10)
    one.down()
    two.down(later_s=0.01)
    screen.frames()
    assert button.held
    two.up()
    one.up()
    screen.frames(2)
    assert commands == ["flushed"]
    assert not button.held


def test_taps_in_a_row_each_count(pressed: tuple[Screen, BigButton, list[str]]) -> None:
    screen, _, commands = pressed
    for _ in range(3):
        screen.tap("Flushed")
    assert commands == ["flushed"] * 3


def test_a_bounce_on_the_glass_counts_once(pressed: tuple[Screen, BigButton, list[str]]) -> None:
    screen, button, commands = pressed
    Finger(*button.center).down().up()
    Finger(*button.center).down(later_s=BOUNCE_S / 3).up()
    screen.frames(2)
    assert commands == ["flushed"]


def test_sliding_off_the_button_gives_no_command(pressed: tuple[Screen, BigButton, list[str]]) -> None:
    screen, button, commands = pressed
    finger = Finger(*button.center).down()
    finger.move(button.center_x, button.y - 40)
    finger.up()
    screen.frames(2)
    assert commands == []


def test_a_disabled_button_swallows_the_touch(pressed: tuple[Screen, BigButton, list[str]]) -> None:
    screen, button, commands = pressed
    button.disabled = True
    screen.frames()
    screen.tap("Flushed")
    assert commands == []


def test_a_button_left_while_held_works_again_afterwards(
    pressed: tuple[Screen, BigButton, list[str]],
) -> None:
    from kivy.base import EventLoop

    screen, button, commands = pressed
    lost = Finger(*button.center).down()
    EventLoop.me_list.remove(lost)  # as when the system took the touch away while the app was paused
    screen.tap("Flushed")
    assert commands == ["flushed"]
