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

from screens import theme


@pytest.fixture
def open_screen() -> Iterator[Callable[..., harness.Screen]]:
    """Open the window at a size in dp; theme and type size are back to their defaults afterwards."""

    def open_one(*args: Any, **kwargs: Any) -> harness.Screen:
        return harness.open_screen(*args, **kwargs)

    yield open_one
    harness.open_screen()
    theme.use(theme.DEFAULT_THEME)
