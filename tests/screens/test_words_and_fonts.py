"""Words are complete, every character has a glyph, and figures do not jump."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from glyphs import missing_glyphs
from PIL import ImageFont

from screens import words
from screens.widgets import fonts
from screens.widgets.keypad_keys import KINDS, key_rows

WEIGHTS = [fonts.REGULAR, fonts.BOLD]
SCREENS = Path(words.__file__).parent


@pytest.mark.parametrize("font_file", WEIGHTS)
def test_every_character_of_the_catalogue_and_the_keys_has_a_glyph(font_file: str) -> None:
    keys = [key.char for kind in KINDS for row in key_rows(kind, 5 if kind != "figures" else 3) for key in row]
    assert missing_glyphs([*words.ENGLISH.values(), *keys], font_file) == set()


@pytest.mark.parametrize("font_file", WEIGHTS)
def test_a_missing_glyph_is_noticed(font_file: str) -> None:
    # Roboto as shipped with Kivy 2.3.1 has the degree sign and lacks ticks, arrows and warning signs.
    assert missing_glyphs(["38 °C ± ≥ é ß"], font_file) == set()
    assert missing_glyphs(["ready ✓ → ⚠"], font_file) == {"✓", "→", "⚠"}


@pytest.mark.parametrize("font_file", WEIGHTS)
@pytest.mark.parametrize("size", [20, 33, 40, 77])
def test_all_ten_figures_are_equally_wide(font_file: str, size: int) -> None:
    font = ImageFont.truetype(font_file, size)
    assert len({font.getlength(figure) for figure in "0123456789"}) == 1


def _ids_asked_for() -> set[str]:
    asked = set()
    for path in SCREENS.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say":
                first = node.args[0]
                if isinstance(first, ast.Constant):
                    asked.add(first.value)
            calls_no = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "no"
            if calls_no and isinstance(node.args[0], ast.Constant):
                asked.add(f"why.{node.args[0].value}")
            names_why = isinstance(node, ast.keyword) and node.arg == "why" and "senses" in path.parts
            if names_why and isinstance(node.value, ast.Constant):
                asked.add(f"why.{node.value.value}")
    return asked


def test_every_id_in_the_code_is_in_the_english_catalogue() -> None:
    asked = _ids_asked_for()
    assert "coil.over" in asked
    assert "why.no_sound_device" in asked
    assert asked <= set(words.ENGLISH)


def test_no_id_is_given_twice() -> None:
    given = [
        key.value
        for path in (SCREENS / "words.py", SCREENS / "words_pages.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant)
    ]
    assert len(given) > 20
    assert [message_id for message_id in set(given) if given.count(message_id) > 1 and "." in message_id] == []


def test_words_are_filled_in_and_gaps_are_refused() -> None:
    assert words.say("pips.count", done=2, needed=3) == "2 of 3"
    with pytest.raises(words.WordsMissing, match="needed"):
        words.say("pips.count", done=2)
    with pytest.raises(words.WordsMissing, match=r"no\.such"):
        words.say("no.such")
    assert words.fields("pips.count") == {"done", "needed"}


def test_a_language_falls_back_to_english_for_what_it_lacks() -> None:
    words.add_language("test", {"coil.over": "DRÜBER"})
    try:
        words.use_language("test")
        assert words.say("coil.over") == "DRÜBER"
        assert words.say("state.released") == "RELEASED"
    finally:
        words.use_language("en")
    with pytest.raises(words.WordsMissing, match=r"no\.such"):
        words.add_language("broken", {"no.such": "x"})
    with pytest.raises(words.WordsMissing, match="nowhere"):
        words.use_language("nowhere")


def test_no_message_shows_time_with_a_bare_sign() -> None:
    assert not [text for text in words.ENGLISH.values() if "+{" in text or "-{" in text]
