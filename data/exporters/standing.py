"""Where the record stood when a week was exported: whose it is, how far it goes, and the clock at its last line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from data.exporters.chain_files import CHAIN, chain_span
from data.gather import WeekRead
from data.line import first_line, last_line
from protocols.unit import Settings


@dataclass(frozen=True, slots=True)
class Standing:
    """`device` and `unit` name the handheld and its unit; `at` is the wall time of the last line, `lines` the chain's.

    `first_seq` and `before` are the chain's first line in this export and the hash of the line before it.
    """

    device: str
    unit: str
    week: str
    closed: bool
    through: int
    head: str
    at: str
    first_seq: int
    before: str
    lines: int


def standing(read: WeekRead, chain: Mapping[str, bytes]) -> Standing:
    """Promise the standing of a week as read, with the chain's files of its export."""
    data = chain[f"{CHAIN}/{read.week}.jsonl"]
    first: dict[str, Any] = json.loads(first_line(data))
    last: dict[str, Any] = json.loads(last_line(data))
    unit = first["data"].get("settings", {}).get("name", Settings().name)
    for event in read.others:
        if event.kind == "set-unit":
            unit = event.data["settings"].get("name", unit)
    seq, before, lines = chain_span(chain)
    return Standing(
        first["device"], unit, read.week, read.closed, read.through, read.head, last["wall"], seq, before, lines
    )
