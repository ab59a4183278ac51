"""What one ended cycle was: a plain JSON document made from its own events, for the ledger and for exports.

Nothing is decided here. Every figure was resolved when its event was recorded; this only gathers. Facts that come later
(release, void of an ended cycle, return to service) are not part of it: they belong to the week in which they were
recorded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from data.cycles import cleaning, disinfection, finish, receipt
from data.cycles.story import Story, people
from protocols.event import Event, event_id

# Version of the document's shape; a reader of a newer one does not guess.
DOCUMENT_V = 1


def summarise(
    events: Sequence[Event], zone: str, baths: Mapping[str, Event], names: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """Promise one plain JSON document for one ended cycle, from its events in order.

    `baths` maps a bath's uid to the event of its pouring, `names` a person's id to the name on the unit's list. Times
    are RFC 3339 with the unit's offset, lengths in s, temperatures in °C; what never happened is None or an empty list.
    Raises Defect unless the events start with the receipt and end with the one that ends the cycle.
    """
    story = Story(events)
    moved = _moved(story)
    if story.taken_over is not None:
        came = story.taken_over.data
        names = {**came["names"], **(names or {})}
        baths = {**{event_id(one["device"], one["seq"]): Event(**one) for one in came["pours"]}, **baths}
    counted = cleaning.counts(story)
    return {
        "v": DOCUMENT_V,
        "cycle": story.own[0].id,
        "seq": story.own[0].seq,
        "ended_seq": story.end.seq,
        **receipt.coming_in(story, zone),
        "delay": receipt.delay(story),
        "leak_tests": cleaning.leak_tests(story),
        "cleaning": cleaning.cleaning(story),
        "wipes": cleaning.looks(story, "clean"),
        "brushing": cleaning.brushing(story),
        "flushes": counted["flushes"],
        "detergent": {"baths": cleaning.detergent_baths(story), "soaks": disinfection.soaks(story, False)},
        "inspections": cleaning.looks(story, "inspect"),
        "verification": cleaning.verification(story),
        "disinfection": {
            "method": disinfection.method(story), "soaks": disinfection.soaks(story, True),
            "runs": disinfection.machine_runs(story), "strip_tests": disinfection.strip_tests(story),
        },
        "rinses": counted["rinses"],
        "alcohol": counted["alcohol"],
        "drying": finish.drying(story),
        "storage": finish.storage(story, zone),
        "outcome": finish.outcome(story),
        "people": _people(story, names or {}),
        "baths": disinfection.baths(story, baths, zone),
        "lates": finish.lates(story),
        "restarts": finish.restarts(story),
        "notices": finish.notices(story),
        "holds": finish.holds(story),
        "skips": finish.skips(story),
        "notes": finish.notes(story),
        "taken_back": finish.taken_back(story),
        "events": [plain_event(e, story.undone_by.get(e.seq)) for e in story.own],
        **moved,
    }  # fmt: skip


def _moved(story: Story) -> dict[str, Any]:
    """Promise from which handheld the cycle came and to which it went, with the place in their records; {} for none.

    `events` holds what was done on this handheld; what was done before stands in the data of the first of them.
    """
    moved: dict[str, Any] = {}
    came = story.taken_over
    if came is not None:
        told = ("device", "cycle_there", "offer", "head", "at", "transfer_s")
        moved["came_from"] = {**{name: came.data[name] for name in told}, "taken_at": came.wall, "by": came.by}
    if story.end.data["ends"] == "handed over":
        moved["went_to"] = {name: story.end.data[name] for name in ("device", "cycle_there", "offer", "head")}
    return moved


def _people(story: Story, names: Mapping[str, str]) -> dict[str, Any]:
    everybody = sorted({e.by for e in story.events})
    return {
        "received": [story.receipt.by],
        "leak_tested": people(e for e in story.staged("leak test") if "to" in e.data),
        "cleaned": people(story.staged("clean", "rinse")),
        "inspected": people(story.staged("inspect")),
        "disinfected": people(story.staged("disinfect")),
        "rinsed": people(story.staged("final rinse")),
        "dried": people(story.staged("dry")),
        "stored": people(story.staged("store")),
        "names": {person: names.get(person, person) for person in everybody},
    }


def plain_event(event: Event, undone_by: int | None) -> dict[str, Any]:
    """Promise one event as documents and tables hold it; `undone_by` is the seq of the event that took it back."""
    return {
        "seq": event.seq, "id": event.id, "at": event.wall, "kind": event.kind, "subject": event.subject,
        "by": event.by, "refs": dict(event.refs), "data": dict(event.data), "undone_by": undone_by,
    }  # fmt: skip
