"""The suite can fail: every assert in it runs, also where Python leaves assert statements out (PYTHONOPTIMIZE=2)."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
# The app runs under PYTHONOPTIMIZE=2, so these run under it too in every run of the suite; by hand or in a nightly run
# the whole suite does: PYTHONOPTIMIZE=2 python3 -m pytest.
SHARE = (
    "tests/test_asserts.py", "tests/engine/test_soaks.py", "tests/engine/test_roles.py", "tests/engine/test_table.py",
    "tests/engine/test_check_values.py", "tests/engine/test_proven_time.py", "tests/record/test_line.py",
    "tests/record/test_canonical.py", "tests/record/test_journal.py", "tests/record/test_door.py",
    "tests/record/test_witness.py", "tests/cli/test_verify.py", "tests/send/test_signing.py", "tests/plan/test_wire.py",
)  # fmt: skip


def always_wrong(value: int) -> None:
    assert value == 1, "left out, if this is not raised"


def test_an_assert_in_a_test_file_is_run() -> None:
    with pytest.raises(AssertionError, match="left out"):
        always_wrong(2)


def test_an_assert_in_a_file_that_tests_import_is_run() -> None:
    from tests.asserting import must_be_one

    with pytest.raises(AssertionError):
        must_be_one(2)


def test_every_file_of_the_tests_that_is_loaded_has_its_asserts_compiled_in() -> None:
    found = 0
    for name, module in list(sys.modules.items()):
        file = getattr(module, "__file__", None)
        if not file or TESTS not in Path(file).parents or name == "conftest":
            continue
        spec = module.__spec__
        loader = type(spec.loader).__name__ if spec is not None else ""
        holds_any = "\n    assert " in Path(file).read_text(encoding="utf-8")
        assert loader == "AssertionRewritingHook" or not holds_any, f"{name} was loaded by {loader}"
        found += loader == "AssertionRewritingHook"
    assert found > 1


@pytest.mark.skipif(sys.flags.optimize > 0, reason="this run is one under the flag already")
def test_a_share_of_the_suite_passes_as_the_app_runs() -> None:
    environment = {**os.environ, "PYTHONOPTIMIZE": "2", "PYTHONDONTWRITEBYTECODE": "1", "CI": ""}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", *SHARE],
        cwd=TESTS.parent, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_flag_is_on_where_it_is_said_to_be() -> None:
    assert sys.flags.optimize == int(os.environ.get("PYTHONOPTIMIZE") or 0)
