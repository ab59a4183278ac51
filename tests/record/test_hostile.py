"""Whatever comes from outside is read or refused by a named error, within stated sizes, and leaves no home folder."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data.checking import check_file
from data.exporters.manifest import MANIFEST_BYTES_MAX, ExportRefused, read_manifest
from data.memory_disk import MemoryDisk
from data.real_disk import RealDisk
from data.replay import LINE_LONGEST as REPLAY_LONGEST
from data.replay import read_lines
from protocols.clock import iso_week, parse_wall, time_of_day, wall_text
from protocols.commands import SPECS, check_value
from protocols.errors import CommandFault, Defect, DiskError, ProtocolFault
from protocols.labels import LONGEST, LabelFault, read_label
from protocols.load import LINE_LONGEST, TEXT_BYTES_MOST, read_protocol
from screens import words
from screens.catalogue import TEXT_LONGEST, CatalogueFault
from tests.hostile import _TODAY, ODD, TARGETS
from tests.soak.fuzz import SHARES

ANY_TEXT = st.text(max_size=300) | st.lists(st.sampled_from(ODD) | st.text(max_size=9), max_size=30).map("".join)


@pytest.mark.parametrize("name", TARGETS)
@settings(max_examples=150, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_bent_input_is_taken_or_refused_by_name(name: str, chance: Random) -> None:
    TARGETS[name].read(TARGETS[name].make(chance))


@pytest.mark.parametrize("name", TARGETS)
def test_the_makers_make_both_what_is_taken_and_what_is_refused(name: str) -> None:
    answers = [TARGETS[name].read(TARGETS[name].make(Random(seed))) for seed in range(300)]
    assert 5 < sum(answers) < 295


def test_the_long_run_leaves_no_target_out() -> None:
    assert SHARES.keys() == TARGETS.keys()


@settings(max_examples=150, deadline=None)
@given(ANY_TEXT, st.binary(max_size=300))
def test_any_text_or_bytes_at_all(text: str, data: bytes) -> None:
    for which in range(4):
        TARGETS["protocol, claim and limit files"].read((which, text))
    for name in ("replay lines", "labels"):
        TARGETS[name].read(text)
    TARGETS["catalogues"].read((text, {text: text, "tab.bench": text}))
    TARGETS["manifests of exports"].read((data, data))
    TARGETS["lines of exports"].read(data)


# --- stated sizes


def test_what_is_too_long_is_refused_before_it_is_read() -> None:
    with pytest.raises(ProtocolFault, match="the text has"):
        read_protocol("#" + "\n#" * (TEXT_BYTES_MOST // 2), "long.toml")
    with pytest.raises(ProtocolFault, match=r"line 1 has"):
        read_protocol("a." * LINE_LONGEST, "wide.toml")
    with pytest.raises(CommandFault, match="longer than"):
        read_lines(["[" * (REPLAY_LONGEST + 1)])
    with pytest.raises(CommandFault, match=r"line 1"):
        read_lines(["[" * REPLAY_LONGEST])
    with pytest.raises(LabelFault, match="a label of 201"):
        read_label("1" * (LONGEST + 1), _TODAY)
    with pytest.raises(ExportRefused, match="bytes, at most"):
        read_manifest(b"[" * (MANIFEST_BYTES_MAX + 1), bytes(64))
    with pytest.raises(CatalogueFault, match="at most"):
        words.add_language("xx", {"tab.bench": "x" * (TEXT_LONGEST + 1)})


ODD_FILES = [
    b"a = " + b"1" * 5000,
    b"hands = 5",
    b"hands = [5]",
    b"[[hands]]\n" * 300,
    b"claim = 3",
    b"limit = [[1]]",
    b"\xff",
]


@pytest.mark.parametrize("content", ODD_FILES)
def test_a_file_of_any_shape_is_checked_in_words(content: bytes) -> None:
    findings, _ = check_file(content, "odd.toml")
    assert findings and all(one.rule and one.remedy for one in findings)


# --- times that no calendar can show

ODD_YEARS = ["0001-01-01T00:00:00Z", "0900-06-01T12:00:00Z", "1969-12-31T23:59:59Z", "9999-01-01T00:00:00Z"]
ENDS = ["1970-01-01T00:00:00.000+00:00", "9998-12-31T23:59:59.999+00:00"]


def replay_line(at: str, do: str = "note", values: Any = None) -> str:
    values = {"what": "other", "text": "x"} if values is None else values
    return json.dumps({"at": at, "do": do, "subject": "B2", "values": values, "by": "ann"})


@pytest.mark.parametrize("at", ODD_YEARS)
def test_a_time_in_a_year_that_can_not_be_shown_never_gets_into_a_record(at: str) -> None:
    timed = [(do, name, one) for do, spec in SPECS.items() for name, one in spec.values.items() if one.type == "time"]
    assert ("receive", "procedure_end") in [(do, name) for do, name, _ in timed]
    for do, name, one in timed:
        with pytest.raises(CommandFault, match="in the years 1970 to 9998"):
            check_value(do, name, one, at)
    with pytest.raises(CommandFault, match=r"line 1: .* correct the year"):
        read_lines([replay_line(at)])


@pytest.mark.parametrize("at", ENDS)
@pytest.mark.parametrize("zone", ["UTC", "Etc/GMT+12", "Pacific/Kiritimati", "America/New_York"])
def test_the_first_and_the_last_time_that_are_taken_can_be_written_in_every_zone(at: str, zone: str) -> None:
    assert parse_wall(wall_text(parse_wall(at), zone)) == parse_wall(at)
    assert iso_week(parse_wall(at), zone) and time_of_day(parse_wall(at), zone)
    assert read_lines([replay_line(at)])[0].at_ms == parse_wall(at)


def test_a_replay_can_not_step_its_clock_out_of_the_calendar() -> None:
    ten_years = 10 * 365 * 86_400
    back = replay_line("1985-01-01T00:00:00Z", "clock", {"step_s": -ten_years})
    assert len(read_lines([back])) == 1
    with pytest.raises(CommandFault, match=r"line 2: .* step it less"):
        read_lines([back, back])
    with pytest.raises(CommandFault, match=r"line 1: .* step it less"):
        read_lines([replay_line("9998-01-01T00:00:00Z", "clock", {"sleep_s": ten_years})])


# --- catalogues can't reach into the app

REACHING = [
    "{count.__class__}", "{count!r}", "{count:>999999999}", "{count[0]}", "{0}", "{other}", "{", "}", "{count:{count}}",
    "a\x00b", "", "  ",
]  # fmt: skip


@pytest.mark.parametrize("text", REACHING)
def test_a_text_that_reaches_further_than_the_english_one_is_not_taken(text: str) -> None:
    with pytest.raises(CatalogueFault, match=r"tab\.watch_count"):
        words.add_language("xx", {"tab.watch_count": text})
    with pytest.raises(words.WordsMissing):
        words.use_language("xx")


@pytest.mark.parametrize("code", ["en", "", "EN", "de_DE", "../de", "x", "de-" + "a" * 9, None, 7])
def test_only_a_language_tag_names_a_language_and_english_stays(code: Any) -> None:
    with pytest.raises(CatalogueFault):
        words.add_language(code, {"tab.bench": "X"})
    assert words.say("tab.bench") == "Bench"


# --- no path leaves the home folder

LEAVING = [
    "..", "../x", "a/../../x", "/etc/passwd", "a//b", "./a", "a/.", "a\\..\\b", "a\0b", "", "texts/../../x", "journal/",
]  # fmt: skip


@pytest.mark.parametrize("path", LEAVING)
def test_a_path_that_leaves_the_home_is_a_defect_on_every_operation(path: str, tmp_path: Path) -> None:
    operations: list[tuple[str, tuple[Any, ...]]] = [
        ("read", ()), ("exists", ()), ("size", ()), ("names", ()), ("append", (b"x",)), ("replace", (b"x",)),
        ("scribble", (b"x", 0)), ("truncate", (0,)), ("remove", ()),
    ]  # fmt: skip
    for disk in (RealDisk(tmp_path / "home"), MemoryDisk()):
        for name, more in operations:
            with pytest.raises(Defect):
                getattr(disk, name)(path, *more)
    assert not list(tmp_path.iterdir())


@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from(("..", ".", "", "a", "home", "~", "x" * 300, "\u2025", "a\\b", "\0")), max_size=6))
def test_no_mix_of_names_writes_outside(tmp_path_factory: pytest.TempPathFactory, parts: list[str]) -> None:
    root = tmp_path_factory.mktemp("around")
    disk = RealDisk(root / "home")
    with suppress(Defect, DiskError):
        disk.replace("/".join(parts), b"x")
    assert {path.name for path in root.iterdir()} <= {"home"}
