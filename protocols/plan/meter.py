"""The budget: nodes are counted; the pace is asked now and then, which lets others come first and stops for safety."""

from protocols.pace import Pace, freely

# About half a millisecond of work.
ASK_EVERY = 50


class Meter:
    """Counts nodes against a budget. `stopped` tells that the pace said so before the budget was gone."""

    def __init__(self, nodes: int, pace: Pace = freely) -> None:
        self.budget = nodes
        self.spent = 0
        self.stopped = False
        self._pace = pace
        self._ask_at = 0

    def spend(self, nodes: int) -> None:
        """Adds to what is spent; asks the pace about every ASK_EVERY nodes."""
        self.spent += nodes
        if self.spent >= self._ask_at:
            self._ask_at = self.spent + ASK_EVERY
            self.stopped = self._pace() or self.stopped

    def over(self) -> bool:
        """Whether the budget is gone or the pace said to stop."""
        return self.stopped or self.spent >= self.budget
