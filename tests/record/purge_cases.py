"""Handhelds whose weeks have been sent, ready to be purged."""

from __future__ import annotations

from copy import copy, deepcopy
from functools import lru_cache
from typing import Any

from data.audit import Audit
from data.disk import Disk
from data.door import Door
from data.home import Texts
from data.journal import Journal
from data.ledger import Ledger, catch_up
from data.memory_disk import MemoryDisk
from data.purging import purge_before
from data.send import send_waiting
from data.signing import Signer, keep_secret
from protocols.event import Event
from protocols.refusals import Refusal
from tests.engine.driver import shelf
from tests.places import MemoryPlace
from tests.send.cases import DAY_S, NEXT_WEEK, START_S, THIRD_WEEK, WEEK, Handheld, busy_week

FOURTH_WEEK = "2026-W51"
SECRET = bytes(range(5, 37))
NOW = "2026-12-16T10:00:00.000+00:00"

__all__ = ["FOURTH_WEEK", "NEXT_WEEK", "NOW", "SECRET", "THIRD_WEEK", "WEEK"]


def four_weeks() -> Handheld:
    """A cycle that begins on Sunday night and ends on Monday in a detergent and a disinfectant bath of the first week;
    one a week later in the same disinfectant; everything released; the fourth week has just begun. One week is kept.
    """
    bench = busy_week()
    bench.must("void", "C5", reason="done elsewhere")
    bench.must("set-unit", "unit", keep_weeks=1)
    bench.wait(4 * DAY_S + 14 * 3600 - (bench.clock.true_ms // 1000 - START_S))
    bench.take_to("B2", "disinfectant-soak")
    bench.wait(3 * 3600)
    bench.whole_cycle("B2")
    bench.must("release", "B2")
    bench.next_week()
    bench.whole_cycle("B3")
    bench.must("release", "B3")
    bench.next_week()
    return bench


@lru_cache(maxsize=1)
def _sent_once() -> tuple[Handheld, dict[str, bytes]]:
    bench, place = four_weeks(), MemoryPlace()
    sent(bench, place)
    return bench, place.files


def fresh() -> tuple[Handheld, MemoryPlace]:
    """Promise a copy of `four_weeks` with everything sent, and the place that it was sent to."""
    made, files = _sent_once()
    bench, place = copy(made), MemoryPlace()
    place.files = dict(files)
    bench.disk, bench.clock, bench.events = MemoryDisk(home_files(made.disk)), deepcopy(made.clock), list(made.events)
    bench.journal, bench.ledger, bench.texts = Journal(bench.disk), Ledger(bench.disk), Texts(bench.disk)
    bench.door = Door(bench.journal, bench.texts, bench.clock, bench.shelf)
    bench.unit = bench.door.unit
    return bench, place


def home_files(disk: MemoryDisk) -> dict[str, bytes]:
    """Promise what a disk holds now."""
    return {path: bytes(data) for path, data in disk.files.items()}


def sent(bench: Handheld, place: MemoryPlace) -> Signer:
    """Promise the signer of a home whose weeks have all arrived."""
    signer = keep_secret(bench.disk, SECRET)
    for _, how in send_waiting(bench.disk, bench.journal, place, signer, lambda: NOW, lambda line: None):
        assert not isinstance(how, Exception), how
    catch_up(Ledger(bench.disk), bench.journal)
    return signer


def purged(bench: Handheld, place: MemoryPlace, before: str, by: str = "ann") -> list[tuple[str, Any]]:
    """Promise what became of every week before the given one."""
    from data.signing import home_signer

    answers = list(purge_before(bench.door, before, place, home_signer(bench.disk, True), by))
    bench.unit = bench.door.unit
    return answers


def weeks_gone(answers: list[tuple[str, Any]]) -> list[str]:
    """Promise the weeks that were purged; the others must be refusals or errors."""
    assert all(isinstance(how, (Event, Refusal, Exception)) for _, how in answers)
    return [week for week, how in answers if isinstance(how, Event)]


def opened(disk: Disk, bench: Handheld) -> Door:
    """Promise the record on a disk opened anew, in the same boot."""
    return Door(Journal(disk), Texts(disk), bench.clock, shelf())


def differences(disk: MemoryDisk, exports: list[Any] | None = None, chain_only: bool = False) -> list[str]:
    audit = Audit(disk, exports or [], chain_only, lambda seconds: None)
    return [str(one) for one in audit.differences()]
