"""What protects nothing: a test that is silently not collected, and a check that Python leaves out."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
FLOOR = TESTS / "collected.txt"

# Python drops assert statements under -O, and the suite must be able to fail there too. pytest compiles the asserts of
# test files anew, which keeps them whatever the flag; the files that tests import get the same. tests/test_asserts.py
# holds it to that.
_NOT_HELPERS = {"conftest", "__init__", "__main__", "__pycache__", "collected", "golden"}
_IN_PACKAGE = {f"tests.{path.stem}" for path in TESTS.iterdir() if path.stem not in _NOT_HELPERS}
_BESIDE_TESTS = {path.stem for path in TESTS.rglob("*.py") if path.stem not in _NOT_HELPERS}
pytest.register_assert_rewrite(*sorted(_IN_PACKAGE | _BESIDE_TESTS))


def pytest_collection_finish(session: pytest.Session) -> None:
    """Compare a full CI run with the floor in collected.txt; raise the floor when tests are added."""
    whole = session.config.args == session.config.getini("testpaths") or session.config.args == ["tests"]
    if not os.environ.get("CI") or not whole or session.config.option.keyword or session.config.option.markexpr:
        return
    floor = int(FLOOR.read_text())
    if len(session.items) < floor:
        pytest.exit(f"{len(session.items)} tests collected, at least {floor} are expected (tests/collected.txt)", 1)
