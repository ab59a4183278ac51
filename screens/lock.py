"""The idle lock: whoever is signed in is signed out when no hand has been on the handheld for a while.

It takes away a name and nothing else. Lanes, coils and prompts never ask it: a locked handheld shows and sounds as
before, and takes the acts that nobody may be kept from (`protocols.unconfirmed`). Needs no window and reads no clock.
"""

from __future__ import annotations

from protocols.clock import Stamp, longest_s

# How long somebody who has just typed the right PIN may be named for what it was typed for: one question may lead to
# two commands (a protocol and its scope). Own figure.
VOUCHED_S = 60


class Lock:
    """When a hand was last on the handheld, and who has just shown by PIN who they are."""

    def __init__(self) -> None:
        self._touched: Stamp | None = None
        self._vouched: tuple[str, Stamp] | None = None

    def touched(self, now: Stamp) -> None:
        """Note a touch, key or scan."""
        self._touched = now

    def due(self, now: Stamp, lock_after_s: float) -> bool:
        """Promise whether the handheld was idle for that long (s); never for 0. The first look counts as a touch.

        Idle time is the longest possible one: after a doubt about the clock, the handheld is rather locked.
        """
        if self._touched is None:
            self._touched = now
        return lock_after_s > 0 and longest_s(self._touched, now) >= lock_after_s

    def vouch(self, person: str, now: Stamp) -> None:
        """Note that the person's PIN was right just now."""
        self._vouched = (person, now)

    def vouched(self, person: str, now: Stamp) -> bool:
        """Promise whether that person, and nobody since, has just shown who they are."""
        known = self._vouched
        return known is not None and known[0] == person and longest_s(known[1], now) <= VOUCHED_S

    def forget(self) -> None:
        """Nobody has shown who they are any more."""
        self._vouched = None
