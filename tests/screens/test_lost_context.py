"""A lost graphics context, as Android takes it away while the app is paused: everything is drawn again as it was.

Kivy 2.3.1 restores what `gc.get_objects` lists (measured here); what the collector holds frozen is not in that list.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator

import harness
import pytest
from kivy.graphics.context import get_context
from kivy.graphics.texture import Texture
from PIL import ImageChops
from stage import bench

from data.memory_disk import MemoryDisk
from screens.frame import BasinbellApp
from screens.senses.choose import senses_for

Open = Callable[..., harness.Screen]


@pytest.fixture(autouse=True)
def _thawed() -> Iterator[None]:
    yield
    gc.unfreeze()


def _textures() -> int:
    return sum(issubclass(type(one), Texture) for one in gc.get_objects())


def test_a_pause_brings_back_what_a_reload_of_the_context_needs(open_screen: Open, tmp_path) -> None:  # type: ignore[no-untyped-def]
    app = bench(open_screen(412, 892))
    frame = BasinbellApp(lambda apply: app.shell, senses_for("linux", tmp_path), MemoryDisk())
    there = _textures()
    gc.freeze()
    assert there > 10 and _textures() == 0, "frozen as the app does when its first page is shown"
    frame.on_pause()
    assert _textures() >= there


@pytest.mark.parametrize("page", ["bench", "steps", "watch", "ledger", "send", "setup"])
def test_a_page_looks_the_same_after_the_context_was_lost(open_screen: Open, page: str) -> None:
    app = bench(open_screen(412, 892))
    app.go(page, **({"tag": "G9"} if page == "steps" else {}))
    before = app.screen.picture()
    get_context().reload()
    app.settle()
    assert ImageChops.difference(before, app.screen.picture()).getbbox() is None
