"""What a week came to: its exceptions, and its turnaround by family. For the page that a lead reads and signs.

Every cycle's events were taken in; nothing is left out because it turned out well in the end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median
from typing import Any

from data.exporters.csv_text import number
from protocols.clock import clock_text, parse_wall


@dataclass(frozen=True, slots=True)
class Deviation:
    """One thing that went otherwise than planned: when, with which scope and cycle, what, and who was there."""

    at: str
    scope: str
    cycle: str
    what: str
    by: str


@dataclass(frozen=True, slots=True)
class Turnaround:
    """Receipt to the end of the cycle, in seconds of wall time, of the completed cycles of one family of scopes."""

    family: str
    times_s: tuple[float, ...]

    @property
    def median_s(self) -> float:
        return median(self.times_s)


def turnaround_s(document: dict[str, Any]) -> float:
    """Promise the wall time from receipt to the end of a cycle, in seconds; 0 where the clock was set back between."""
    return max(0, parse_wall(document["outcome"]["at"]) - parse_wall(document["received"]["at"])) / 1000


def turnarounds(documents: list[dict[str, Any]]) -> list[Turnaround]:
    """Promise the turnaround of every family that completed a cycle, by name."""
    times: dict[str, list[float]] = {}
    for document in documents:
        if document["outcome"]["outcome"] == "completed":
            times.setdefault(document["scope"]["family"] or "unknown", []).append(turnaround_s(document))
    return [Turnaround(family, tuple(sorted(times[family]))) for family in sorted(times)]


def outcomes(documents: list[dict[str, Any]]) -> Counter[str]:
    """Promise how many cycles ended in which way."""
    return Counter(document["outcome"]["outcome"] for document in documents)


def deviations(document: dict[str, Any]) -> list[Deviation]:
    """Promise everything in a cycle that a reviewer has to see, in order of time."""
    scope, cycle = document["scope"]["tag"], document["cycle"]
    found = [Deviation(at, scope, cycle, what, by) for at, what, by in _found(document)]
    return sorted(found, key=lambda d: parse_wall(d.at))


def _found(document: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
    end, disinfection = document["outcome"], document["disinfection"]
    if end["outcome"] != "completed":
        yield end["at"], f"{end['outcome']}: {end['reason'] or 'no reason'}", end["by"]
    elif not end["disinfected"]:
        yield end["at"], "completed without proven disinfection", end["by"]
    if document["delay"]["delayed"]:
        waited = document["delay"]["delay_s"]
        why = "delay unknown" if waited is None else f"cleaning begun after {clock_text(waited)}"
        yield document["cleaning"]["start"] or document["received"]["at"], f"delayed: {why}", document["received"]["by"]
    for test in document["leak_tests"]:
        if test["result"] == "fail":
            lead = f", corrected by {test['corrected_by']}: {test['corrected_why']}" if test["corrected_by"] else ""
            yield test["at"], f"leak test failed{lead}", test["by"]
    for strip in disinfection["strip_tests"]:
        if strip["result"] != "pass":
            yield strip["at"], f"strip test {strip['result']}, {strip['bath']}", strip["by"]
    for reading in document["verification"]:
        if reading["verdict"] != "pass":
            shown = f"{reading['method']} {number(reading['value'])} {reading['unit']}"
            yield reading["at"], f"cleaning verification {reading['verdict']}: {shown}", reading["by"]
    for late in document["lates"]:
        if late["what"] == "cleaning begun" and document["delay"]["delayed"]:
            continue  # said above
        yield late["at"], f"late: {late['what']} at {late['step']}, {clock_text(late['over_s'])} over", late["by"]
    for again in document["restarts"]:
        why = f": {again['reason']}" if again["reason"] else ""
        yield again["at"], f"again from zero: {again['what']} at {again['step']}{why}", again["by"]
    for hold in document["holds"]:
        decided = f"{hold['decision']} by {hold['decided_by']}: {hold['reason']}" if hold["decision"] else "not decided"
        yield hold["at"], f"waited for a lead ({hold['why']}); {decided}", hold["by"]
    for skip in document["skips"]:
        yield skip["at"], f"left out: {skip['step']}, {skip['reason']}", skip["by"]
    for note in document["notes"]:
        yield note["at"], f"note, {note['what']}: {note['text']}", note["by"]
