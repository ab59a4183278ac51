"""One ended cycle as a story: its events in order, which taps were taken back, and the visits to each step.

A cycle that was taken over from another handheld begins with that handheld's own events, as they came with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from protocols.errors import Defect
from protocols.event import Event, event_id

# Kinds by which somebody works on the scope; a lead's decision or a note is no work on it.
DOING = frozenset(("look", "pass", "count", "start", "lift", "check", "read", "run-end"))
# Kinds that show at which step the scope is, besides those above.
_AT_STEP = DOING | {"skip", "interrupt"}


@dataclass(slots=True)
class Visit:
    """One stay at one step; a cycle that goes back comes to the same step again as a new visit."""

    step: str
    stage: str
    events: list[Event] = field(default_factory=list)

    def of(self, *kinds: str) -> list[Event]:
        return [e for e in self.events if e.kind in kinds]

    @property
    def times(self) -> dict[str, Any]:
        """Promise step, first and last moment, and who worked there, as every list of visits shows them."""
        return {
            "step": self.step, "stage": self.stage, "start": self.events[0].wall, "end": self.events[-1].wall,
            "by": people(self.events),
        }  # fmt: skip


class Story:
    """The events of one ended cycle. `live` are those that stand: neither taken back nor taking back."""

    def __init__(self, events: Sequence[Event]) -> None:
        """Takes the events of this record in order: from the receipt, or the taking over, to the end; else Defect."""
        self.own = tuple(events)
        self.events = (*self._before(events[0]), *events) if events else ()
        if not self.events or self.events[0].kind != "receive":
            raise Defect(f"a cycle of {len(events)} events that does not start with its receipt can't be summarised")
        self.receipt = self.events[0]
        ends = [e for e in events if e.data.get("ends")]
        if len(ends) != 1 or ends[0] is not events[-1]:
            raise Defect(f"cycle {self.receipt.id} does not end with its last event; only an ended one is summarised")
        self.end = ends[0]
        # Seqs of two handhelds may be the same, ids are not.
        undone = {event_id(e.device, e.data["undoes"]): e.seq for e in self.events if e.kind == "undo"}
        self.undone_by: dict[int, int] = {e.seq: undone[e.id] for e in self.own if e.id in undone}
        self.live = [e for e in self.events if e.kind != "undo" and e.id not in undone]
        self.visits = list(_visits(self.live))

    @staticmethod
    def _before(first: Event) -> tuple[Event, ...]:
        return tuple(Event(**one) for one in first.data["history"]) if first.kind == "take-over" else ()

    @property
    def taken_over(self) -> Event | None:
        """The event that took the cycle over from another handheld, None where it began here."""
        return self.own[0] if self.own[0].kind == "take-over" else None

    def carrying(self, name: str) -> list[Event]:
        """Promise the events that stand and whose data holds something under that name."""
        return [e for e in self.live if e.data.get(name)]

    def staged(self, *stages: str) -> list[Event]:
        """Promise the work that stands at steps of these stages."""
        return [e for e in self.live if e.kind in DOING and e.data.get("stage") in stages]


def _visits(events: Iterable[Event]) -> Iterator[Visit]:
    visit: Visit | None = None
    for event in events:
        if event.kind not in _AT_STEP:
            continue
        if visit is None or visit.step != event.data["step"]:
            if visit is not None:
                yield visit
            visit = Visit(event.data["step"], event.data["stage"])
        visit.events.append(event)
    if visit is not None:
        yield visit


def people(events: Iterable[Event]) -> list[str]:
    """Promise who gave these events, each once, in order of first appearance."""
    return list(dict.fromkeys(e.by for e in events))


def stamped(event: Event, *names: str) -> dict[str, Any]:
    """Promise when, at which step and by whom, with the named values of the event's data (None when not there)."""
    return {
        "at": event.wall, "by": event.by, "step": event.data.get("step"), **{n: event.data.get(n) for n in names}
    }  # fmt: skip
