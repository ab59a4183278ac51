"""One cycle as a ribbon of time, for the pages and the PDF alike: each stage a bar on one common axis."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from protocols.clock import parse_wall

# Kinds that move a cycle along; notes and decisions lie within the stage around them.
MOVING = ("look", "pass", "count", "start", "lift", "check", "read", "run-end", "skip", "interrupt")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Something that ran by itself, from and to in ms of wall time: detergent, disinfectant, air or machine."""

    kind: str
    start_ms: int
    end_ms: int


@dataclass(frozen=True, slots=True)
class Late:
    """A limit that was passed: from the limit to the tap that ended it."""

    start_ms: int
    end_ms: int


@dataclass(slots=True)
class Bar:
    """One stay at one stage: it begins when the stage before ends, so waiting belongs to what was waited for."""

    stage: str
    start_ms: int
    end_ms: int
    runs: list[Stretch] = field(default_factory=list)
    lates: list[Late] = field(default_factory=list)

    @property
    def late_s(self) -> float:
        """The longest time past a limit in this stage, in s."""
        return max(((late.end_ms - late.start_ms) / 1000 for late in self.lates), default=0.0)


def ribbon(document: dict[str, Any]) -> list[Bar]:
    """Promise the bars of one ended cycle in order; a stage that was gone back to comes again as a new bar."""
    bars: list[Bar] = []
    at_ms = parse_wall(document["received"]["at"])
    for event in _standing(document["events"]):
        stage = event["data"].get("stage")
        moment_ms = parse_wall(event["at"])
        if not bars or bars[-1].stage != stage:
            bars.append(Bar(stage, at_ms, moment_ms))
        bars[-1].end_ms = at_ms = moment_ms
    for stretch in _runs(document):
        _bar_at(bars, stretch.end_ms).runs.append(stretch)
    for late in document["lates"]:
        end_ms = parse_wall(late["at"])
        _bar_at(bars, end_ms).lates.append(Late(end_ms - round(late["over_s"] * 1000), end_ms))
    return bars


def _standing(events: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for event in events:
        if event["kind"] in MOVING and event["undone_by"] is None and event["data"].get("stage"):
            yield event


def _runs(document: dict[str, Any]) -> Iterator[Stretch]:
    disinfection, drying = document["disinfection"], document["drying"]
    lists = (
        ("detergent", document["detergent"]["soaks"]),
        ("disinfectant", disinfection["soaks"]),
        ("machine", disinfection["runs"]),
        ("air", [drying]),
    )
    for kind, found in lists:
        for one in found:
            if one["start"] and one["end"]:
                yield Stretch(kind, parse_wall(one["start"]), parse_wall(one["end"]))


def _bar_at(bars: list[Bar], moment_ms: int) -> Bar:
    """The bar in which a moment ends; a cycle without any step has none, and then nothing ran either."""
    return next((bar for bar in bars if moment_ms <= bar.end_ms), bars[-1])
