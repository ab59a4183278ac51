"""How often which rule refused, week by week: `refused/<week>.json` in the home.

A refusal changes nothing and is no part of the record, so this is a count beside it and evidence of nothing. It is
written now and then, not at every refusal: what an app that is killed had counted since then is lost.
"""

from __future__ import annotations

import json
from collections import Counter

from data.canonical import canonical
from data.disk import Disk
from data.segments import WEEK
from protocols.errors import UNREADABLE, DiskError

REFUSED = "refused"


def refused_in(disk: Disk, week: str) -> Counter[str]:
    """Promise how often each rule refused in a week, as far as written; none where that can't be read."""
    try:
        return _held(disk, week)
    except DiskError:
        return Counter()


def _held(disk: Disk, week: str) -> Counter[str]:
    path = f"{REFUSED}/{week}.json"
    content = disk.read(path) if disk.exists(path) else b'{"rules":{}}'
    try:
        held = json.loads(content)["rules"]
        return Counter({str(key): count for key, count in held.items() if type(count) is int and count > 0})
    except UNREADABLE:
        return Counter()


class Refused:
    """Counts refusals in memory until `write`."""

    def __init__(self, disk: Disk) -> None:
        self._disk = disk
        self._new: dict[str, Counter[str]] = {}

    def note(self, week: str, rule: str) -> None:
        """Promise that one refusal by that rule is counted in a week like 2026-W48."""
        if WEEK.fullmatch(week):
            self._new.setdefault(week, Counter())[rule] += 1

    def write(self) -> bool:
        """Promise that all that was counted is on the disk; False where it could not be written, and is kept."""
        for week, counted in list(self._new.items()):
            try:
                # A file that can't be read just now must not be taken for none: its counts would be written over.
                whole = _held(self._disk, week) + counted
                content = canonical({"v": 1, "week": week, "rules": dict(whole)})
                self._disk.replace(f"{REFUSED}/{week}.json", content + b"\n")
            except DiskError:
                return False
            del self._new[week]
        return True
