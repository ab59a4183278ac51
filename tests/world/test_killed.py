"""A real process with a record on a real disk, killed over and over: what it told is there. More kills: tests/soak."""

from __future__ import annotations

import signal

import pytest

from tests.world.killed import kill_often

KILLS, SEED = 60, 20261125


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="killing needs POSIX signals")
def test_killed_at_any_moment_every_acknowledged_command_is_there(tmp_path):
    assert kill_often(tmp_path / "home", KILLS, SEED) > KILLS
