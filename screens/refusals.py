"""Refusals that people met, counted beside the record: which rules are met how often, for a week's figures."""

from __future__ import annotations

from data.disk import Disk
from data.refused import Refused
from protocols.clock import Stamp, iso_week, longest_s
from screens.desk import Desk

# Written at most so often: each time costs two syncs of the disk. Own figure.
WRITE_S = 60.0


class Refusals:
    """Hears every refusal of a desk; `beat` writes them down now and then, `write` at the end."""

    def __init__(self, disk: Disk) -> None:
        self._refused = Refused(disk)
        self._written: Stamp | None = None
        self._new = False

    def hear(self, desk: Desk) -> None:
        """Listen to this desk from now on."""

        def refused(rule: str, now: Stamp) -> None:
            self._refused.note(iso_week(now.wall_ms, desk.unit.settings.zone), rule)
            self._new = True

        desk.on_refusal = refused

    def beat(self, now: Stamp) -> None:
        """Write what is new, if the last writing is long enough ago."""
        if self._new and (self._written is None or longest_s(self._written, now) >= WRITE_S):
            self._written = now
            self.write()

    def write(self) -> None:
        """Write what is new; where that fails it is tried again later."""
        self._new = not self._refused.write()
