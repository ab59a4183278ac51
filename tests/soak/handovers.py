"""Many runs of two handhelds and a lossy channel: python3 -m tests.soak.handovers 10000 [first seed]"""

from __future__ import annotations

import sys

from tests.world.pair import Pair


def main(runs: int, first: int = 0) -> None:
    """Promise that no run of these seeds duplicates or loses a cycle; the first that does is named."""
    moves = altered = refused = 0
    for seed in range(first, first + runs):
        pair = Pair(seed)
        try:
            for _ in range(pair.chance.randrange(5, 40)):
                pair.step()
            pair.settle()
        except BaseException:
            print(f"seed {seed}")
            raise
        moves, altered, refused = moves + pair.moves, altered + pair.altered, refused + pair.refused
        if (seed - first + 1) % 500 == 0:
            print(f"{seed - first + 1} runs: {moves} moved, {altered} altered, {refused} refused", flush=True)
    print(f"{runs} runs, {moves} cycles moved, {altered} messages altered, {refused} refused; none twice, none lost")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
