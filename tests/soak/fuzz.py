"""A million hostile inputs, run by hand: python3 -m tests.soak.fuzz [--inputs 1000000] [--seed 1] [--minutes 8]

Inputs are shared out over `tests.hostile.TARGETS`. Every input comes from its own seed; the first that is answered by
anything but a named error ends the run and is printed with its target and seed. `--exports` besides gathers and
verifies so many bent export folders (`tests.hostile_exports`), some of them a second.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from random import Random

from tests.hostile import TARGETS
from tests.send.test_hostile_exports import look_into

# Of ten inputs: a file takes a millisecond, a label some microseconds.
SHARES = {
    "protocol, claim and limit files": 1, "replay lines": 3, "labels": 3, "catalogues": 1, "manifests of exports": 1,
    "lines of exports": 1, "planning problems": 1,
}  # fmt: skip
BATCH = 100


def main() -> int:
    """Promise 0 when every input was taken or refused by name, else 1."""
    parser = argparse.ArgumentParser(prog="python3 -m tests.soak.fuzz", description="hostile inputs")
    parser.add_argument("--inputs", type=int, default=1_000_000, help="over all targets")
    parser.add_argument("--seed", type=int, default=1, help="the first")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="end after this wall time")
    parser.add_argument("--exports", type=int, default=0, help="bent export folders, after the inputs")
    options = parser.parse_args()
    start = time.monotonic()
    given, taken = dict.fromkeys(TARGETS, 0), dict.fromkeys(TARGETS, 0)
    seed = options.seed
    while sum(given.values()) < options.inputs and time.monotonic() - start < options.minutes * 60:
        for name, share in SHARES.items():
            for _ in range(share * BATCH):
                made = TARGETS[name].make(Random(seed))
                try:
                    taken[name] += TARGETS[name].read(made)
                except Exception as error:  # whatever it was, the seed has to be told
                    print(f"{name}, seed {seed}: {type(error).__name__}: {error}\n{made!r:.2000}")
                    return 1
                given[name] += 1
                seed += 1
    for name in TARGETS:
        print(f"{name}: {given[name]} inputs, {taken[name]} taken, the others refused by name")
    print(f"first seed {options.seed}, {sum(given.values())} inputs, {time.monotonic() - start:.0f} s wall")
    return folders(options.seed, options.exports) if options.exports else 0


def folders(first: int, count: int) -> int:
    """Promise 0 when every bent export folder was taken or refused by name, and nothing left its place; else 1."""
    taken = 0
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as root:
            try:
                taken += look_into(seed, Path(root))
            except Exception as error:  # whatever it was, the seed has to be told
                print(f"export folders, seed {seed}: {type(error).__name__}: {error}")
                return 1
    print(f"export folders: first seed {first}, {count}, {taken} taken, the others refused by name")
    return 0


if __name__ == "__main__":
    sys.exit(main())
