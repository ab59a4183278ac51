"""A million hostile inputs, run by hand: python3 -m tests.soak.fuzz [--inputs 1000000] [--seed 1] [--minutes 8]

Inputs are shared out over `tests.hostile.TARGETS`. Every input comes from its own seed; the first that is answered by
anything but a named error ends the run and is printed with its target and seed.
"""

from __future__ import annotations

import argparse
import sys
import time
from random import Random

from tests.hostile import TARGETS

# Of ten inputs: a file takes a millisecond, a label some microseconds.
SHARES = {
    "protocol, claim and limit files": 1, "replay lines": 3, "labels": 3, "catalogues": 1, "manifests of exports": 1,
    "lines of exports": 1,
}  # fmt: skip
BATCH = 100


def main() -> int:
    """Promise 0 when every input was taken or refused by name, else 1."""
    parser = argparse.ArgumentParser(prog="python3 -m tests.soak.fuzz", description="hostile inputs")
    parser.add_argument("--inputs", type=int, default=1_000_000, help="over all targets")
    parser.add_argument("--seed", type=int, default=1, help="the first")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="end after this wall time")
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
    return 0


if __name__ == "__main__":
    sys.exit(main())
