"""Simulated shifts for as long as one likes: python3 -m tests.soak --shifts 10000 --seed 1 [--kills 500]

Every shift is a world of its own (`tests.world`): fake clocks, a disk in memory with faults, seeded chance, the real
engine, record and prompts. Its promises are checked after every step, the power is cut in a copy of its disk in one
step of 60, and the record of every tenth shift is verified whole. Prints the first seed, how many shifts, and the wall
time. The first seed that breaks a promise ends the run and is named; given alone, it repeats the same shift. `--kills`
besides kills a real process with a record on a real disk so many times (`tests.world.killed`).
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from functools import partial
from multiprocessing import Pool
from pathlib import Path

from tests.engine.driver import shelf
from tests.world.killed import kill_often
from tests.world.shifts import shift, verify

REOPEN_EVERY, VERIFY_EVERY, TELL_EVERY_S = 60, 10, 30


def one(hours: float, seed: int) -> tuple[int, int, int, int, int, str]:
    """Promise seed, steps, recorded events, accepted soaks and completed cycles of a shift; or what went wrong."""
    try:
        world = shift(seed, shelf(), hours, reopen_every=REOPEN_EVERY)
        if seed % VERIFY_EVERY == 0:
            verify(world)
    except Exception as error:  # whatever it was, the seed has to be told
        return seed, 0, 0, 0, 0, f"{type(error).__name__}: {error}"
    return seed, world.steps, world.door.unit.seq, world.truth.accepted_soaks, world.truth.completed, ""


def main() -> int:
    """Promise 0 when every shift kept every promise, else 1."""
    parser = argparse.ArgumentParser(prog="python3 -m tests.soak", description="simulated shifts with faults")
    parser.add_argument("--shifts", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1, help="the first of so many seeds in a row")
    parser.add_argument("--hours", type=float, default=8, help="of simulated time in a shift")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="end after this wall time")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--kills", type=int, default=0, help="of a real process, after the shifts")
    options = parser.parse_args()
    start = told = time.monotonic()
    counts = [0, 0, 0, 0, 0]
    with Pool(options.processes) as pool:
        seeds = range(options.seed, options.seed + options.shifts)
        for seed, *found, wrong in pool.imap(partial(one, options.hours), seeds):
            now = time.monotonic()
            if wrong:
                print(f"seed {seed} after {now - start:.0f} s: {wrong}")
                return 1
            counts = [sum(pair) for pair in zip(counts, (1, *found), strict=True)]
            if now - told > TELL_EVERY_S:
                print(f"{counts[0]} shifts, {now - start:.0f} s", flush=True)
                told = now
            if now - start > options.minutes * 60:
                pool.terminate()
                break
    shifts, steps, events, soaks, cycles = counts
    print(
        f"first seed {options.seed}, {shifts} shifts of {options.hours:g} h, {time.monotonic() - start:.0f} s wall on "
        f"{options.processes} processes: {steps} steps, {events} recorded lines, {soaks} soaks accepted, "
        f"{cycles} cycles completed; every promise kept",
        flush=True,
    )
    if options.kills:
        with tempfile.TemporaryDirectory() as folder:
            acknowledged = kill_often(Path(folder) / "home", options.kills, options.seed)
        print(f"killed {options.kills} times, all {acknowledged} acknowledged commands were there")
    return 0


if __name__ == "__main__":
    sys.exit(main())
