"""Killing a living record at random, and looking whether everything that was acknowledged is there."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from random import Random

from data.audit import verify_home
from tests.engine.driver import shelf
from tests.world.truth import Broken
from tests.world.victim import open_home

ROOT = Path(__file__).parents[2]


def kill_often(home: Path, kills: int, seed: int) -> int:
    """Promise how many acknowledged commands were all found again after that many kills; Broken when one was not."""
    chance = Random(seed)
    told: dict[int, str] = {}
    victim = subprocess.Popen(
        [sys.executable, "-m", "tests.world.victim", str(home)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1,
    )  # fmt: skip
    try:
        for kill in range(kills):
            _one_kill(victim, chance, told)
            _require_all(home, told, f"seed {seed}, kill {kill}")
    finally:
        victim.communicate()
    return len(told)


def _one_kill(victim: subprocess.Popen[str], chance: Random, told: dict[int, str]) -> None:
    victim.stdin.write("live\n")
    # The two writers share one pipe: the first acknowledgements may come before the pid that gave them.
    pid, wanted, heard = 0, chance.randrange(0, 25), 0
    while not pid or heard < wanted:
        word, value = victim.stdout.readline().split()
        if word == "pid":
            pid = int(value)
        elif word == "ended":
            raise Broken(f"the victim ended by itself with {value}")
        else:
            told[int(word)] = value
            heard += 1
    # A moment of any length, without asking a clock: the victim goes on meanwhile.
    for _ in range(chance.randrange(40_000)):
        pass
    os.kill(pid, signal.SIGKILL)
    while (answer := victim.stdout.readline().split())[0] != "ended":
        told[int(answer[0])] = answer[1]
    if int(answer[1]) != signal.SIGKILL:
        raise Broken(f"the victim ended with {answer[1]}, not by the kill")


def _require_all(home: Path, told: dict[int, str], note: str) -> None:
    """Open what is left as the app would, and look for every acknowledged line."""
    disk, door, _ = open_home(home, "after the kill", shelf())
    try:
        hashes = {line["seq"]: line["hash"] for line in door.journal.lines()}
        lost = [seq for seq, digest in told.items() if hashes.get(seq) != digest]
        if lost:
            raise Broken(f"{note}: acknowledged and lost: lines {lost[:5]}")
        if sorted(hashes) != list(range(1, max(hashes, default=0) + 1)):
            raise Broken(f"{note}: the record has holes")
        door.touch()
        door.touch()
    finally:
        disk.close()
    if found := [str(difference) for difference in verify_home(home).differences()]:
        raise Broken(f"{note}: the record does not verify: {found[:3]}")
