"""What a person has said about a scope that comes in, and the command it becomes. Pure; needs no window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from protocols.clock import Stamp, local_date, parse_wall, wall_text
from protocols.limits import delay_of
from protocols.shelf import Shelf
from protocols.unit import Unit, Used
from protocols.wall import last_at, next_at
from screens.planning import Asked
from screens.words import has, say

# Minutes offered as tiles, each one tap; another time is typed.
AGO_MIN = (0, 5, 10, 15, 20, 30, 45, 60)


@dataclass
class Answers:
    """The answers so far: `ended_ms` is wall time, None while `ended_said` is False or when the end is unknown."""

    tag: str = ""
    case: str = ""
    ended_said: bool = False
    ended_ms: int | None = None
    kind: str = ""
    by: str = ""
    wanted_ms: int | None = None

    @property
    def unfinished(self) -> bool:
        """Promise whether something was said that leaving would lose."""
        return bool(self.case) or self.ended_said

    def take_over(self, used: Used | None) -> None:
        """Take over what is known of a scope that was issued: its case, and the end of its procedure where told."""
        if used is None:
            return
        self.case = self.case or used.case
        if used.procedure_end and not self.ended_said:
            self.ended_said, self.ended_ms = True, parse_wall(used.procedure_end)

    def values(self, precleaned: str, now: Stamp, zone: str) -> dict[str, Any]:
        """Promise the values of the receipt: what was said and nothing more."""
        moment_ms = now.wall_ms if self.ended_ms is None else self.ended_ms
        values: dict[str, Any] = {
            "case": self.case,
            "procedure_date": local_date(moment_ms, zone).isoformat(),
            "procedure_type": self.kind,
            "precleaned": precleaned,
        }
        if self.ended_ms is not None:
            values["procedure_end"] = wall_text(self.ended_ms, zone)
        if self.wanted_ms is not None:
            values["wanted_by"] = wall_text(self.wanted_ms, zone)
        if precleaned == "yes" and self.by:
            values["precleaned_by"] = self.by
        return values


def ago_ms(minutes: int, now: Stamp) -> int:
    """Promise the wall time so many minutes ago."""
    return now.wall_ms - minutes * 60_000


def last_ms(text: str, now: Stamp, zone: str) -> int | None:
    """Promise the wall time of a typed time of day like 10.05 or 1005, the last one that was; None if it is none."""
    typed = _typed(text)
    return None if typed is None else last_at(*typed, now.wall_ms, zone)


def next_ms(text: str, now: Stamp, zone: str) -> int | None:
    """Promise the wall time of a typed time of day, the next one to come; None if it is none."""
    typed = _typed(text)
    return None if typed is None else next_at(*typed, now.wall_ms, zone)


def _typed(text: str) -> tuple[int, int] | None:
    """The hour and minute that stand there."""
    parts = text.replace(":", ".").split(".")
    if len(parts) == 1 and len(text) in (3, 4):
        parts = [text[:-2], text[-2:]]
    if len(parts) != 2 or not all(part.isascii() and part.isdigit() for part in parts) or len(parts[1]) != 2:
        return None
    hour, minute = int(parts[0]), int(parts[1])
    if hour > 23 or minute > 59:
        return None
    return hour, minute


def asked_of(said: Answers, unit: Unit, shelf: Shelf) -> Asked:
    """Promise what the planner is asked about the scope that is being received, by what is said of it so far."""
    scope = unit.scopes.get(said.tag)
    sha = unit.protocols.get(scope.protocol) if scope is not None else None
    if sha is None:
        return Asked()
    clean_by_ms = None
    if said.ended_ms is not None:
        clean_by_ms = said.ended_ms + round(delay_of(unit, shelf.protocol(sha))[1] * 1000)
    return Asked(said.tag, clean_by_ms, said.ended_said and said.ended_ms is None)


def kind_of(family: str) -> str:
    """Promise the procedure that a family of scopes is mostly used for, to be changed where it was another."""
    key = f"procedure.{family}"
    return say(key) if has(key) else say("procedure.other")
