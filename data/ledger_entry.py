"""One ended cycle as the list of cycles shows it, and what it is found by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from data.ledger_glance import people
from protocols.clock import parse_wall

# What may be asked for; each is a member of `Query`.
WAYS = ("tag", "case", "bath", "person")


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; "" for anything. `bath` is a bath's uid, label or lot, `person` an id."""

    tag: str = ""
    case: str = ""
    bath: str = ""
    person: str = ""


class Entry(NamedTuple):
    """One ended cycle in the list. Lengths in s; `lates` counts limits that were passed."""

    week: str
    cycle: str
    tag: str
    case: str
    procedure: str
    ended_ms: int
    length_s: float
    outcome: str
    disinfected: bool
    lates: int


class Found(NamedTuple):
    """One entry with what it may be asked for by, besides its tag and case: its baths and people."""

    entry: Entry
    baths: list[str]
    people: list[str]

    def named(self) -> Iterator[tuple[str, str]]:
        """Promise every way and key by which it is found."""
        yield from (("tag", self.entry.tag), ("case", self.entry.case))
        yield from (("bath", bath) for bath in self.baths)
        yield from (("person", person) for person in self.people)

    def fits(self, query: Query) -> bool:
        """Promise whether it is all that is asked for."""
        return (
            query.tag in ("", self.entry.tag)
            and query.case in ("", self.entry.case)
            and (not query.bath or query.bath in self.baths)
            and (not query.person or query.person in self.people)
        )


def entry(week: str, document: dict[str, Any]) -> Entry:
    """Promise what the list shows of a ledger's document."""
    ended_ms = parse_wall(document["outcome"]["at"])
    return Entry(
        week,
        document["cycle"],
        document["scope"]["tag"],
        document["case"]["reference"],
        document["case"]["procedure_type"] or "",
        ended_ms,
        (ended_ms - parse_wall(document["received"]["at"])) / 1000,
        document["outcome"]["outcome"],
        document["outcome"]["disinfected"],
        len(document["lates"]),
    )


def found_in(week: str, document: dict[str, Any]) -> Found:
    """Promise a document's entry, with what it is found by; the document may be one read at a glance."""
    baths = {bath[name] for bath in document["baths"] for name in ("uid", "label", "lot") if bath.get(name)}
    return Found(entry(week, document), sorted(baths), people(document))
