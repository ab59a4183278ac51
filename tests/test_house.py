"""The house rules that tools can keep: style, types, and the arrows between the floors."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent
TOOLS = {
    "style": ["-m", "ruff", "check", "--no-cache", "."],
    "layout": ["-m", "ruff", "format", "--check", "--no-cache", "."],
    "types": ["-m", "mypy", "--cache-dir", os.devnull],
}


@pytest.mark.parametrize("rule", TOOLS)
def test_tool_finds_nothing(rule):
    done = subprocess.run([sys.executable, *TOOLS[rule]], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_arrows_point_downward_only():
    done = subprocess.run([BIN / "lint-imports", "--no-cache"], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_check_is_an_assert():
    # The app runs with bytecode optimisation, which removes assert statements.
    for path in [
        ROOT / "main.py",
        *(p for floor in ("protocols", "data", "screens") for p in (ROOT / floor).rglob("*.py")),
    ]:
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            assert not line.strip().startswith("assert "), f"{path.relative_to(ROOT)}:{number} uses assert"
