"""Pace: what computes for long asks now and then, and may be made to wait or to stop."""

from collections.abc import Callable

# Asked about every half millisecond of work, in which it may wait so that others come first. True: time is up.
Pace = Callable[[], bool]


def freely() -> bool:
    """Promise never to wait and never to stop."""
    return False
