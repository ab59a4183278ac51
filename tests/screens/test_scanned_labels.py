"""Labels as scanners send them: the separator of GS1 arrives as a character or as keys, and nothing is guessed."""

from __future__ import annotations

from collections.abc import Callable

import harness
import pytest
from lead_scene import Scene
from stage import State, at, bench

from protocols.labels import SEPARATOR, LabelFault
from screens.scanner import Scanner

Open = Callable[..., harness.Screen]


def _keyed(text: str, separator: tuple[int, str | None, list[str]]) -> str:
    """What a scanner that types these characters has given at Enter."""
    given: list[str] = []
    scanner = Scanner(given.append)
    for char in text:
        if char == SEPARATOR:
            key, codepoint, modifiers = separator
            scanner.key(None, key, 0, codepoint, modifiers)
        else:
            scanner.key(None, ord(char.lower()), 0, char.lower(), ["shift"] if char.isupper() else [])
    scanner.key(None, 13, 0, None, [])
    return given[0]


RAW = f"]C10151022222233336{SEPARATOR}10A213B1{SEPARATOR}211234"


@pytest.mark.parametrize("separator", [(29, SEPARATOR, []), (93, "]", ["ctrl"]), (93, None, ["ctrl"]), (29, None, [])])
def test_the_separator_comes_through_however_the_scanner_types_it(separator: tuple[int, str | None, list[str]]) -> None:
    assert _keyed(RAW, separator) == RAW


def test_a_separator_sent_as_key_and_as_text_counts_once() -> None:
    given: list[str] = []
    scanner = Scanner(given.append)
    for char in RAW:
        scanner.key(None, ord(char.lower()), 0, char, [])
        scanner.typed(None, char)
    scanner.key(None, 13, 0, None, [])
    assert given == [RAW]


def test_a_scope_is_found_by_the_serial_number_on_its_label() -> None:
    scene = Scene()
    scene.give("add-scope", "B8", "mira", protocol="bronchoscope-1", serial="1234")
    assert scene.desk.scope_of("b8") == "B8"
    assert scene.desk.scope_of(RAW) == "B8"
    assert scene.desk.scope_of("1234") == "B8"
    assert scene.desk.scope_of("9999") == ""
    with pytest.raises(LabelFault, match="sent no separators"):
        scene.desk.scope_of("015102222223333610A213B1211234")


def test_a_label_that_can_not_be_read_for_certain_says_why(open_screen: Open) -> None:
    app = bench(open_screen(412, 892), (at("B2", "flush-suction-channel", State.COUNT),))
    before = len(app.lines())
    app.scan("015102222223333610A213B1211234")
    assert any("the scanner sent no separators" in text for text in app.screen.texts())
    assert len(app.lines()) == before
