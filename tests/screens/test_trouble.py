"""A record that can't go on: the page says where and what to do, Watch and Ledger read, no command changes a byte."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import harness
import pytest
from stage import Stage, bench

from data.memory_disk import MemoryDisk
from protocols.errors import BasinbellError, ClockError, DiskError, HomeBusy, RecordDamaged, RecordTooNew
from screens import theme, words
from screens.setup import preferences
from screens.shell import Shell
from screens.trouble.app import TroubleApp, trouble_shell
from screens.trouble.page import TroubleWords
from screens.words import ENGLISH, say

Open = Callable[..., harness.Screen]
HOME = "home"
SEGMENT = "journal/2026-W48.jsonl"


class Damaged:
    """The demonstration's bench with one byte of its record bent, opened as the app opens it."""

    def __init__(self, open_screen: Open, line: int, size: tuple[float, ...] = (412, 892), **look: Any) -> None:
        self.screen = open_screen(*size, **look)
        whole: Stage = bench(self.screen)
        files = dict(whole.disk.files)
        lines = bytes(files[SEGMENT]).splitlines(keepends=True)
        self.length = len(lines)
        at = line if line >= 0 else len(lines) + line
        lines[at] = lines[at].replace(b'"kind"', b'"kine"', 1)
        self.line = at + 1
        files[SEGMENT] = bytearray(b"".join(lines))
        self.disk = MemoryDisk(files)
        self.before = {path: bytes(data) for path, data in self.disk.files.items()}
        error = RecordDamaged(f"{SEGMENT}, line at byte 7: it is bent")
        self.shell: Shell = trouble_shell(self.disk, error, HOME)
        self.screen.show(self.shell)
        self.shell.go("bench")
        self.shell.page.background.finish()
        self.screen.frames(6)

    def texts(self) -> str:
        return " ".join(self.screen.texts())

    def go(self, page: str) -> None:
        self.shell.go(page)
        self.shell.page.background.finish()
        self.screen.frames(6)


def test_the_page_names_file_and_line_and_what_to_do(open_screen: Open) -> None:
    app = Damaged(open_screen, -1)
    pages = app.texts()
    while "More below" in app.texts():
        app.screen.tap("More below")
        app.screen.frames(4)
        pages += app.texts()
    assert f"line {app.line} of {SEGMENT}" in pages
    assert "main.py verify" in pages and "from an export" in pages
    assert "The record is damaged" in pages and say("tab.trouble") in pages


def test_watch_and_ledger_read_what_is_whole_and_the_rest_stays_hidden(open_screen: Open) -> None:
    app = Damaged(open_screen, -1)
    app.go("watch")
    assert "G3" in app.texts()  # over its limit as of the last readable line
    app.go("ledger")
    assert app.shell.page.key == "ledger"


def test_no_command_is_taken_and_no_byte_changes(open_screen: Open) -> None:
    app = Damaged(open_screen, -1)
    tags = list(app.shell.desk.unit.cycles)
    for do, values in (("lift", {}), ("note", {"what": "other", "text": "x"}), ("count", {})):
        told = app.shell.give(do, tags[0], values, by="joss")
        assert (told.done, told.rule) == (False, "read-only")
    for page in ("watch", "ledger", "bench"):
        app.go(page)
        app.shell.look()
    assert {path: bytes(data) for path, data in app.disk.files.items()} == app.before


@pytest.mark.parametrize("line", [0, 1])
def test_a_record_without_a_readable_state_shows_the_page_all_the_same(open_screen: Open, line: int) -> None:
    app = Damaged(open_screen, line)
    assert "The record is damaged" in app.texts()
    for page in ("watch", "ledger"):
        app.go(page)
    assert {path: bytes(data) for path, data in app.disk.files.items()} == app.before


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (RecordTooNew("x is of version 9"), "newer than this app"),
        (HomeBusy("in use by process 7"), "in use"),
        (DiskError("reading head failed (Input/output error)"), "storage can't be used"),
        (ClockError("the elapsed clock went back"), "clock is in doubt"),
    ],
)
@pytest.mark.parametrize("size", [(412, 892), (360, 640, 1.3)])
def test_every_other_reason_is_said_in_plain_words(
    open_screen: Open, error: BasinbellError, says: str, size: tuple[float, ...]
) -> None:
    screen = open_screen(*size)
    screen.show(TroubleWords(error, HOME))
    assert says in " ".join(screen.texts())
    assert screen.clipped() + screen.overlapping() == []


@pytest.mark.parametrize("size", [(412, 892), (360, 640), (360, 640, 1.3)])
def test_nothing_is_clipped(open_screen: Open, size: tuple[float, ...]) -> None:
    app = Damaged(open_screen, -3, size)
    for _ in range(6):
        assert app.screen.clipped() + app.screen.overlapping() == []
        if "More below" not in app.texts():
            break
        app.screen.tap("More below")
        app.screen.frames(4)


def test_it_is_said_in_the_language_and_the_look_of_this_handheld(open_screen: Open) -> None:
    disk = MemoryDisk()
    preferences.save(disk, preferences.Preferences(language="de", theme="night"))
    screen = open_screen(412, 892)
    try:
        app = TroubleApp(disk, HomeBusy("in use by process 7"), HOME)
        screen.show(app.build())
        assert theme.name_in_use() == "night"
        german = say("trouble.busy")
        assert german in screen.texts() and german != ENGLISH["trouble.busy"]
    finally:
        words.use_language("en")
