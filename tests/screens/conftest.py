"""Fixtures for tests of what is shown; the harness comes first, to set the environment before Kivy's."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

# The folder itself, so that `import harness` works whichever way the tests are collected; the name `screens`
# stays that of the app.
sys.path.insert(0, str(Path(__file__).parent))

import harness
from kivy.base import ExceptionManager

from screens import theme


@pytest.fixture
def open_screen() -> Iterator[Callable[..., harness.Screen]]:
    """Open the window at a size in dp; theme and type size are back to their defaults afterwards."""

    def open_one(*args: Any, **kwargs: Any) -> harness.Screen:
        return harness.open_screen(*args, **kwargs)

    yield open_one
    harness.open_screen()
    theme.use(theme.DEFAULT_THEME)
    # A frame that was started and not stopped would go on to handle what fails in another test.
    ExceptionManager.handlers.clear()


@pytest.fixture(autouse=True)
def nothing_went_on_unseen(request: pytest.FixtureRequest, caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """The app goes on after an error of its own, a test of it must not: what was only logged fails the test."""
    yield
    if request.module.__name__.rpartition(".")[2] != "test_surviving":
        logged = [record for record in caplog.get_records("call") if record.name == "basinbell" and record.exc_info]
        assert not [record.getMessage() for record in logged if record.getMessage().startswith("the app goes on")]
