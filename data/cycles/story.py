"""One ended cycle as a story: its events in order, which taps were taken back, and the visits to each step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from protocols.errors import Defect
from protocols.event import Event

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
        """Takes the events in order. Raises Defect unless they start with a receipt and one of them ends the cycle."""
        if not events or events[0].kind != "receive":
            raise Defect(f"a cycle of {len(events)} events that does not start with its receipt can't be summarised")
        self.events = tuple(events)
        self.receipt = events[0]
        ends = [e for e in events if e.data.get("ends")]
        if len(ends) != 1 or ends[0] is not events[-1]:
            raise Defect(f"cycle {self.receipt.id} does not end with its last event; only an ended one is summarised")
        self.end = ends[0]
        self.undone_by: dict[int, int] = {e.data["undoes"]: e.seq for e in events if e.kind == "undo"}
        self.live = [e for e in events if e.kind != "undo" and e.seq not in self.undone_by]
        self.visits = list(_visits(self.live))

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
