"""The budget: nodes are counted, wall time is only asked now and then as a safety stop."""

from collections.abc import Callable


class Meter:
    """Counts nodes against a budget. `stopped` tells that the wall-time safety stop struck."""

    def __init__(self, nodes: int, elapsed_s: Callable[[], float] | None = None, stop_s: float | None = None) -> None:
        self.budget = nodes
        self.spent = 0
        self.stopped = False
        self._elapsed_s = elapsed_s
        self._stop_s = stop_s
        self._ask_at = 0

    def spend(self, nodes: int) -> None:
        """Adds to what is spent."""
        self.spent += nodes

    def over(self) -> bool:
        """Whether the budget is gone or the safety stop struck; asks for the time about every 500 nodes."""
        if self.spent >= self.budget or self.stopped:
            return True
        if self._elapsed_s is not None and self._stop_s is not None and self.spent >= self._ask_at:
            self._ask_at = self.spent + 500
            self.stopped = self._elapsed_s() >= self._stop_s
        return self.stopped
