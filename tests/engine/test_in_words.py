"""What the engine says reaches a page in the language in use: refusals with their values, reasons, notices, holds."""

from __future__ import annotations

import ast
import string
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from driver import SCOPES
from walker import CLAIMS, Walker

import protocols
from protocols import reasons
from protocols.commands import SPECS
from protocols.errors import CommandFault, Defect
from protocols.event import Event
from protocols.refusals import WORDS, refuse
from screens import languages, shown, words
from tests import pseudo

# Values that hold a label, a tag, a person, a figure or a moment: nothing to put into words.
PLAIN = {
    "subject", "by", "bath", "test", "strips", "lot", "claim", "scope", "case", "device", "to", "own", "offered", "at",
    "container", "typed", "scanned", "given", "row", "label", "limit", "over", "left", "most", "low", "high", "temp",
    "wrong", "within", "seen", "last", "a", "b", "value", "now", "count", "ago", "day", "badge", "holder", "found",
    "n", "week", "keep", "seq", "positive", "negative", "date", "since", "poured", "below", "form", "other", "known",
    "method", "meter", "protocol", "faults", "others", "word", "expects", "time", "reference", "after", "repairer",
    "least", "mark", "wanted", "text", "elements", "one", "rest", "ai", "stock",
    # of an error of the disk: reasons of their own, and a path with the system's words
    "doing", "remedy", "path", "cause", "again",
}  # fmt: skip
# Faults of a file are for whoever wrote it, at the command line: no page takes a file.
FOR_AUTHORS = {"protocol-fault"}
OWN = (*SCOPES, *CLAIMS, *SCOPES.values(), "ann", "tim", "eve", "nobody", "unconfirmed", "cabinet")


@pytest.fixture
def nobodys() -> Iterator[None]:
    pseudo.use()
    yield
    words.use_language("en")


def _named(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


def test_every_value_of_a_refusal_or_reason_is_put_into_words_or_needs_none() -> None:
    named = {name for pair in WORDS.values() for part in pair for name in _named(part)}
    named |= {name for template in reasons.WORDS.values() for name in _named(template)}
    assert named - PLAIN - shown._WORDED.keys() == set()


def test_ids_have_words() -> None:
    assert [do for do in SPECS if not words.has(f"do.{do}")] == []
    for folder in ("protocols", "data"):
        for path in (Path(protocols.__file__).parents[1] / folder).rglob("*.py"):
            for name in _asked_for(ast.parse(path.read_text("utf-8"))):
                assert words.has(f"value.{name}"), f"{path.name} asks for {name!r}"
    typed = {name for do, spec in SPECS.items() if do not in ("set-pin", "purge")
             for name, value in spec.values.items() if value.type in ("number", "whole")}  # fmt: skip
    assert [name for name in sorted(typed) if not words.has(f"value.{name}")] == []


def _asked_for(tree: ast.AST) -> Iterator[str]:
    """The names of values that refusals of a module say as they stand in it."""
    for call in ast.walk(tree):
        if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "refuse":
            for given in call.keywords:
                if given.arg in ("name", "first", "second", "missing") and isinstance(given.value, ast.Constant):
                    yield str(given.value.value)


def _why(event: Event) -> Iterator[str]:
    data: dict[str, Any] = event.data
    yield from data.get("notices", ())
    yield from (one["why"] for one in (data.get("hold"), data.get("fault"), data.get("doubt")) if isinstance(one, dict))
    if "holds_why" in data:
        yield data["holds_why"]


@pytest.mark.parametrize("seed", range(4))
def test_a_walk_says_nothing_in_english_but_the_units_own_words(seed: int, nobodys: None) -> None:
    walker = Walker(seed)
    found: dict[str, str] = {}
    give = walker.bench.give

    def heard(*args: Any, **values: Any) -> Any:
        answer = give(*args, **values)
        if isinstance(answer, Event):
            told = [shown.in_words(why) for why in _why(answer)]
        else:
            told = [] if answer.key in FOR_AUTHORS else list(shown.refused(answer))
        own = (*OWN, *(value for value in values.values() if isinstance(value, str) and value.strip()))
        for text in told:
            for word in pseudo.left_in_english(text, own):
                found.setdefault(word, text)
        return answer

    walker.bench.give = heard  # type: ignore[method-assign]
    walker.walk(400)
    assert found == {}
    assert len(walker.refusals) > 15


@pytest.mark.parametrize("key", sorted(reasons.KEPT))
def test_a_reason_is_known_again_by_its_words(key: str, nobodys: None) -> None:
    """Whatever it was filled in with, and beside another one."""
    known = {"origin": "procedure end", "done": "yes" if key == "preclean" else "5:12"}
    values = {name: known.get(name, f"{name[:1].upper()}1") for name in _named(reasons.KEPT[key])}
    text = reasons.kept(key, **values)
    said = shown.in_words(text)
    assert said == words.say(f"reason.{key}", **shown.shown(values))
    if "why" not in values:
        assert shown.in_words(f"gone to the shop; {text}") == f"gone to the shop; {said}"


def test_words_of_the_unit_stay_as_they_are() -> None:
    languages.use("de")
    try:
        assert shown.in_words("fell off the hook; rubber cut") == "fell off the hook; rubber cut"
        assert shown.in_words("held: fell off the hook; a completed cycle resolves it").startswith(
            "zurückgehalten: fell"
        )
        no = refuse("away", subject="B2", why=reasons.aside("with", repairer="the works", why="leak test failed; cut"))
        why, remedy = shown.refused(no)
        assert why == "B2 ist außer Haus (bei the works: Dichtigkeitstest durchgefallen; cut)"
        assert "return-checked" not in remedy
    finally:
        words.use_language("en")


def test_a_step_is_said_by_its_name_in_the_marks_of_the_language() -> None:
    no = refuse("in-cycle", subject="C1", step="brush-biopsy-channel")
    assert no.why.endswith("at step 'brush-biopsy-channel'")
    assert shown.refused(no)[0] == "C1 is already in a cycle, at step “Brush biopsy channel”"
    languages.use("es")
    try:
        assert shown.refused(no)[0] == "C1 ya está en un ciclo, en el paso «Cepillar canal de biopsia»"
        unit_own = refuse("in-cycle", subject="C1", step="rinse-the-widget")
        assert shown.refused(unit_own)[0].endswith("«Rinse the widget»")
    finally:
        words.use_language("en")


def test_a_value_out_of_range_is_said_in_the_language() -> None:
    bench = Walker(0).bench
    with pytest.raises(CommandFault) as caught:
        bench.give("lift", "B2", temp_c=120)
    assert str(caught.value) == "lift: temp_c is 120, it must be from 0 to 99"
    languages.use("de")
    try:
        assert shown.in_words(caught.value.args[0]) == "Temperatur ist 120, erlaubt ist 0 bis 99"
    finally:
        words.use_language("en")


def test_a_reason_without_words_is_a_defect() -> None:
    for make in (reasons.kept, reasons.aside):
        with pytest.raises(Defect, match="no words"):
            make("no-such")


@pytest.mark.parametrize("lot", ["2026-01-05", "2026-13-45", "2026-11-25T25:61+01:00"])
@pytest.mark.parametrize(
    ("key", "names"), [("unknown-bath", ("bath", "known")), ("unknown-scope", ("subject",)), ("strip-used", ("test",))]
)
def test_a_label_that_reads_like_a_day_stays_as_it_is_printed(key: str, names: tuple[str, ...], lot: str) -> None:
    assert lot in " ".join(shown.refused(refuse(key, **dict.fromkeys(names, lot))))


def test_what_is_typed_as_a_day_and_is_none_is_said_as_it_was_typed() -> None:
    told = shown.refused(refuse("label-contradicts", name="lot", typed="2026-13-45", scanned="2026-01-05"))
    assert "2026-13-45" in told[0] and "5 Jan 2026" in told[0]


def test_a_day_is_said_as_people_say_it() -> None:
    told = shown.refused(refuse("strips-expired", strips="S1", what="the printed expiry", date="2026-01-05"))
    assert "5 Jan 2026" in told[0]
