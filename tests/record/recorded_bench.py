"""The engine's bench with a real record behind it: every command goes through the door into a journal in memory."""

from __future__ import annotations

from typing import Any

from data.cycles import summarise
from data.door import Door
from data.exporters.csv_week import week_files
from data.gather import read_week
from data.home import Texts
from data.journal import Journal
from data.ledger import Ledger
from data.memory_disk import MemoryDisk
from protocols.event import Command, Decision, Event
from protocols.refusals import Refusal
from tests.engine.driver import Bench


class RecordedBench(Bench):
    """A `Bench` whose events are durable: `journal`, `disk`, `ledger` and `texts` are those of its home."""

    def __init__(self, start: str, zone: str = "Europe/Berlin", checkpoint_every: int = 400) -> None:
        self.disk = MemoryDisk()
        self.journal = Journal(self.disk, checkpoint_every=checkpoint_every)
        self.ledger = Ledger(self.disk)
        self.texts = Texts(self.disk)
        super().__init__(start, zone)

    def _append(self, decision: Decision, by: str) -> None:  # type: ignore[override]
        # Only the boot event of the plain bench comes this way; the door records its own.
        assert decision.kind == "boot"
        self.door = Door(self.journal, self.texts, self.clock, self.shelf, "hh1")
        self.unit = self.door.unit

    def export_week(self, week: str) -> dict[str, bytes]:
        """The tables and texts of a week's export."""
        read = read_week(self.journal, week)
        return week_files(read, read.documents(), self.texts.get)

    def give(self, do: str, subject: str, by: str = "ann", after: int | None = None, **values: Any) -> Event | Refusal:
        if do == "choose":
            values["by"] = values.pop("way")
        self._seen = self.clock.read()
        answer = self.door.give(Command(do, subject, values, by, after))
        self.unit = self.door.unit
        if isinstance(answer, Event):
            self.events.append(answer)
        return answer

    def lines(self) -> list[dict[str, Any]]:
        return [line for week in self.journal.segments() for line in self.journal.iter_segment(week)]


def tap(bench: Bench, do: str, subject: str, **values: Any) -> Event:
    """Promise the event of a tap that comes a second after the one before."""
    bench.wait(1)
    return bench.must(do, subject, **values)


def own_events(bench: Bench, cycle: str) -> list[Event]:
    """Promise the events of a cycle up to its end, found the slow and plain way."""
    found = []
    for event in bench.events:
        if event.id == cycle or event.refs.get("cycle") == cycle:
            found.append(event)
            if event.data.get("ends"):
                return found
    raise AssertionError(f"{cycle} has not ended")


def document(bench: Bench, tag: str, zone: str = "UTC") -> dict[str, Any]:
    """Promise the summary of the scope's last ended cycle."""
    last = bench.unit.scopes[tag].last
    assert last is not None
    pours = {e.id: e for e in bench.events if e.kind == "pour-bath"}
    names = {person.id: person.name for person in bench.unit.people.values()}
    return summarise(own_events(bench, last.cycle), zone, pours, names)
