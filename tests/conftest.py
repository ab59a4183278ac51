"""A test that is silently not collected protects nothing: a full CI run fails when fewer are found than before."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

FLOOR = Path(__file__).parent / "collected.txt"


def pytest_collection_finish(session: pytest.Session) -> None:
    """Compare a full CI run with the floor in collected.txt; raise the floor when tests are added."""
    whole = session.config.args == session.config.getini("testpaths") or session.config.args == ["tests"]
    if not os.environ.get("CI") or not whole or session.config.option.keyword or session.config.option.markexpr:
        return
    floor = int(FLOOR.read_text())
    if len(session.items) < floor:
        pytest.exit(f"{len(session.items)} tests collected, at least {floor} are expected (tests/collected.txt)", 1)
