"""What is looked at on the files of a home, for tests of work that must not grow with the record."""

from __future__ import annotations

import time
from typing import Any

import pytest

from data import unchanged
from data.real_disk import RealDisk


class Looks:
    """Paths that are looked at from now on, as seen by a clock so many seconds ahead of the folders' own."""

    def __init__(
        self,
        monkeypatch: pytest.MonkeyPatch,
        later_s: float = 60,
        ways: tuple[str, ...] = ("names", "read", "read_from", "size", "exists"),
    ) -> None:
        """`ways` are the methods of a disk that count as a look."""
        self.at: list[str] = []
        for name in ways:
            monkeypatch.setattr(RealDisk, name, self._watched(getattr(RealDisk, name)))
        monkeypatch.setattr(unchanged, "now_ns", lambda: time.time_ns() + round(later_s * 1e9))

    def _watched(self, real: Any) -> Any:
        def watched(disk: RealDisk, path: str, *rest: Any) -> Any:
            self.at.append(path)
            return real(disk, path, *rest)

        return watched
