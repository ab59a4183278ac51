"""Three languages: catalogues are complete, name the same values, count in the right form; a choice is remembered."""

from __future__ import annotations

import errno
import gettext
import os
import string
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any

import harness
import pytest
import stage
from glyphs import missing_glyphs
from reading import walk
from test_words_and_fonts import WEIGHTS

from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from data.rehearse.scene import scene_clock
from protocols.model import Figure
from protocols.refusals import refuse
from screens import languages, theme, words
from screens.bench.flow import Flow
from screens.desk import Desk
from screens.history import Row
from screens.setup import preferences
from screens.setup.claim_words import figure_words
from screens.shown import refused
from screens.steps.parts import Done
from screens.widgets.lane import Lane
from screens.words_plural import PLURALS
from tests import languages as tool

Open = Callable[..., harness.Screen]
OTHERS = [code for code in languages.NAMES if code != "en"]
# Plural rules as the Unicode CLDR (plural rules chart, cardinal) has them; gettext writes them as C expressions.
POLISH = "nplurals=3; plural=(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2);"


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    words.use_language("en")


@pytest.mark.parametrize("code", OTHERS)
def test_a_catalogue_holds_every_message_of_today(code: str) -> None:
    """New words: `python3 -m tests.languages` adds them to the .po file, a translator fills them in, and again."""
    assert tool.missing(tool.brought_up(code)) == []
    assert (languages.FOLDER / f"{code}.po").read_bytes() == tool.po_bytes(tool.brought_up(code))


@pytest.mark.parametrize("code", OTHERS)
def test_what_is_compiled_is_what_is_written(code: str) -> None:
    with (languages.FOLDER / f"{code}.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    with BytesIO(tool.mo_bytes(tool.read(code))) as written:
        assert compiled._catalog == gettext.GNUTranslations(written)._catalog  # type: ignore[attr-defined]


@pytest.mark.parametrize("code", OTHERS)
def test_every_message_names_the_values_of_the_english_one(code: str) -> None:
    languages.use(code)
    for message_id, english in words.ENGLISH.items():
        if message_id in PLURALS:
            continue
        text = words._catalogues[code].get(message_id, english)
        assert _named(text) == _named(english), message_id


def _named(text: str) -> set[str]:
    return {f"{name}!{how}:{spec}" for _, name, spec, how in string.Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("font_file", WEIGHTS)
def test_every_character_has_a_glyph(code: str, font_file: str) -> None:
    strings = [m.string if isinstance(m.string, tuple) else (m.string,) for m in tool.read(code) if m.id]
    texts = [part for parts in strings for part in parts]
    assert missing_glyphs(texts, font_file) == set()


def test_a_translation_says_another_thing_than_english() -> None:
    """A catalogue of English copies would be complete and useless; a few words are the same in both languages."""
    for code in OTHERS:
        texts = [(str(m.id), m.string) for m in tool.read(code) if isinstance(m.string, str) and len(str(m.id)) > 12]
        same = [english for english, text in texts if english == text and "{" not in english]
        assert len(same) <= len(texts) // 50, same


def test_the_form_fits_the_number() -> None:
    assert words.say("form.left", count=1) == "1 thing to give"
    assert words.say("form.left", count=2) == "2 things to give"
    languages.use("de")
    assert words.say("form.left", count=1) == "noch 1 Angabe"
    assert words.say("form.left", count=2) == "noch 2 Angaben"
    languages.use("es")
    assert words.say("form.left", count=1) == "falta 1 dato"
    assert words.say("form.left", count=5) == "faltan 5 datos"


def test_a_language_of_three_forms_works(tmp_path: Path) -> None:
    """Polish has one form for 1, one for 2 to 4 and one for the rest (CLDR)."""
    from babel.messages.catalog import Catalog
    from babel.messages.mofile import write_mo

    catalogue = Catalog(locale="pl", charset="utf-8", fuzzy=False)
    forms = ("{count} rzecz", "{count} rzeczy", "{count} rzeczy jeszcze")
    catalogue.add((PLURALS["form.left"][1], words.ENGLISH["form.left"]), forms, context="form.left")
    assert catalogue.plural_forms == POLISH
    path = tmp_path / "pl.mo"
    with path.open("wb") as file:
        write_mo(file, catalogue)
    languages.add("pl", path)
    try:
        words.use_language("pl")
        said = [words.say("form.left", count=count) for count in (1, 2, 4, 5, 22, 25)]
        assert said == ["1 rzecz", "2 rzeczy", "4 rzeczy", "5 rzeczy jeszcze", "22 rzeczy", "25 rzeczy jeszcze"]
    finally:
        words.use_language("en")


def test_sentences_of_shipped_protocols_and_refusals_are_said_in_the_language() -> None:
    languages.use("de")
    assert words.shipped("Brush the tip and look at the brush.") == "Die Spitze bürsten und die Bürste ansehen."
    assert words.shipped("A sentence of the unit's own.") == "A sentence of the unit's own."
    no = refuse("too-cold", bath="H1", temp=17, low=20)
    why, remedy = refused(no)
    assert why == "Bad H1 hat 17 °C, das Minimum ist 20 °C"
    assert remedy.startswith("erwärmen")
    # The record and the command line keep what the door said.
    assert no.why == "bath H1 is 17 °C, the minimum is 20 °C"


def test_an_unknown_language_or_a_damaged_catalogue_is_english(tmp_path: Path, monkeypatch: Any) -> None:
    languages.use("xx")
    assert words.language() == "en"
    whole = (languages.FOLDER / "de.mo").read_bytes()
    monkeypatch.setattr(languages, "FOLDER", tmp_path)
    monkeypatch.setattr(languages, "_added", set())
    chance = Random(3)
    cut = [whole[: chance.randrange(len(whole))] for _ in range(20)]
    bent = [bytearray(whole[:4000] + whole[-4000:]) for _ in range(20)]
    for one in bent:
        one[chance.randrange(28)] ^= 0xFF
    for content in (b"", b"no catalogue", whole[:4], whole[:20], *cut, *bent):
        (tmp_path / "de.mo").write_bytes(content)
        languages.use("de")
        assert words.language() == "en" or "de" in languages._added
        languages._added.clear()


def test_the_choice_is_remembered_on_this_handheld() -> None:
    disk = MemoryDisk()
    preferences.save(disk, preferences.Preferences(language="es"))
    assert preferences.load(disk).language == "es"
    disk.replace(preferences.FILE, b'{"language": "xx", "theme": "night"}')
    assert preferences.load(disk) == preferences.Preferences(theme="night")


def test_the_language_is_chosen_by_touch(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    app.go("setup-handheld")
    app.tap("Language: English")
    assert "Language: Deutsch" in app.screen.texts()
    assert preferences.load(app.disk).language == "de"


def test_a_page_in_german(open_screen: Open) -> None:
    languages.use("de")
    app = stage.bench(open_screen(412, 892))
    app.go("steps", tag="G9")
    texts = app.screen.texts()
    assert "Den Absaug-/Biopsiekanal mit 30 mL Reinigerlösung durchspülen." in texts
    assert "Durchgespült" in texts
    assert "Platz" in texts


@pytest.mark.parametrize("code", languages.NAMES)
def test_every_title_of_a_lane_is_whole_on_the_narrowest_bench(open_screen: Open, code: str) -> None:
    """Words that are one word in one language: no demonstration has each step, and each of them stands on a lane."""
    languages.use(code)
    screen = open_screen(640, 360, font_scale=1.3)
    app = stage.bench(screen)
    app.go("bench")
    flow = next(widget for widget in walk(screen.root) if isinstance(widget, Flow))
    while not any(isinstance(widget, Lane) for widget in walk(flow)) and flow.more:
        flow.turn()
        app.settle()
    width = min(widget.width for widget in walk(flow) if isinstance(widget, Lane))
    said = [words.say(name) for name in words.ENGLISH if name.startswith("step.")]
    said += [words.say("lane.lift", what=words.say(f"lane.{bath}")) for bath in ("detergent", "disinfectant")]
    said += [words.say(f"lane.{name}") for name in ("drying", "check_dry", "run", "end_run", "rinse_now", "waits_lead")]
    for title in said:
        lane = Lane(tag="C4", family="colono", step=title, figure="12:34", size_hint_x=None, width=width)
        screen.show(lane)
        assert screen.clipped() == [], title


@pytest.mark.parametrize("code", languages.NAMES)
def test_a_scope_past_its_time_says_so_on_the_first_leaf_of_the_smallest_screen(open_screen: Open, code: str) -> None:
    """A long sentence pushes the line with the limit on to the next leaf; the button says it too."""
    languages.use(code)
    app = stage.bench(open_screen(360, 640, font_scale=1.3))
    app.go("steps", tag="G3")
    assert any(words.say("lane.over_limit", time="6:05") in text for text in app.screen.texts())


def test_what_was_done_is_readable_in_every_language(open_screen: Open) -> None:
    """A row takes two lines before its words shrink to what nobody can read."""
    for code in languages.NAMES:
        languages.use(code)
        screen = open_screen(360, 640, font_scale=1.3)
        done = Done(size_hint_x=None, width=336)
        brushed = words.say("done.one_pass")
        done.tell("done", [Row("10:41", words.say("step.brush-biopsy-channel"), brushed), Row("10:42", "Air", "dry")])
        screen.show(done)
        full = theme.step_sp("detail") * 1.3
        small = [(code, label.text, label.font_size) for label in screen.shown_labels() if label.font_size < 0.7 * full]
        assert small == []
        assert screen.clipped() + screen.overlapping() == []


@pytest.mark.parametrize(
    ("code", "one", "several", "part"),
    [
        ("en", "1 day", "14 days", "0.5 days"),
        ("de", "1 Tag", "14 Tage", "0.5 Tage"),
        ("es", "1 día", "14 días", "0.5 días"),
    ],
)
def test_a_life_is_counted_in_the_form_of_its_number(code: str, one: str, several: str, part: str) -> None:
    languages.use(code)
    told = [figure_words("reuse_d_max", Figure(value, "a label", "read")) for value in (1, 14.0, 0.5)]
    assert told == [one, several, part]


FULL = {
    "en": "NOT recorded: appending to journal/2026-W48.jsonl failed (No space left on device); "
    "free space on the handheld, then do it again",
    "de": "NICHT aufgezeichnet: Anhängen an journal/2026-W48.jsonl ist fehlgeschlagen (No space left on device); "
    "auf dem Handgerät Platz schaffen, dann noch einmal",
    "es": "NO registrado: añadir a journal/2026-W48.jsonl: ha fallado (No space left on device); "
    "libere espacio en el dispositivo y hágalo de nuevo",
}


@pytest.mark.parametrize("code", FULL)
def test_what_helps_when_the_disk_is_full_is_said_in_the_language_in_use(
    code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(open_door(RealDisk(tmp_path), scene_clock(), shipped_shelf(), "hh1"), "joss")
    languages.use(code)

    def full(*_: Any) -> int:
        raise OSError(errno.ENOSPC, "full")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", full)
        told = desk.give("set-unit", "unit", {"name": "Bench", "zone": "UTC"})
    assert (told.done, told.rule, told.words) == (False, "disk", FULL[code])
