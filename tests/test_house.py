"""The house rules that tools can keep: style, types, and the arrows between the floors."""

import ast
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


def shipped():
    """Every file of Python that reaches a handheld, with its tree."""
    floors = (p for floor in ("protocols", "data", "screens") for p in sorted((ROOT / floor).rglob("*.py")))
    for path in (ROOT / "main.py", *floors):
        yield path.relative_to(ROOT), ast.parse(path.read_text(encoding="utf-8"))


def gone_with_optimisation(tree):
    """What works otherwise, or not at all, under PYTHONOPTIMIZE=2: asserts, docstrings read, code under __debug__."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Assert):
            yield node.lineno, "assert"
        elif isinstance(node, ast.Attribute) and node.attr == "__doc__":
            yield node.lineno, "__doc__"
        elif isinstance(node, ast.Name) and node.id in ("__doc__", "__debug__"):
            yield node.lineno, node.id
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ("getdoc", "cleandoc"):
            yield node.lineno, "a docstring read"


def test_nothing_shipped_rests_on_what_bytecode_optimisation_takes_away():
    # python-for-android compiles with -OO and runs with PYTHONOPTIMIZE=2. Source: its build.py and PythonActivity.java.
    found = [f"{path}:{line} {what}" for path, tree in shipped() for line, what in gone_with_optimisation(tree)]
    assert not found


def test_that_search_finds_each_of_them():
    source = (
        "def f(x):\n    if x: assert x\n    return f.__doc__\nimport inspect\ninspect.getdoc(f)\nif __debug__: f(1)\n"
    )
    assert [line for line, _ in sorted(gone_with_optimisation(ast.parse(source)))] == [2, 3, 5, 6]


def test_helpers_of_folders_without_a_package_have_names_of_their_own() -> None:
    """Pytest puts those folders on one path: of two helpers with one name the first imported would serve both."""
    folders = [folder for folder in (ROOT / "tests").iterdir() if folder.is_dir()]
    names = [p.name for folder in folders if not (folder / "__init__.py").exists() for p in folder.glob("*.py")]
    assert {name for name in names if name != "conftest.py" and names.count(name) > 1} == set()
