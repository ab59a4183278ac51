"""Scopes, people and chemistries from a table: every row becomes ordinary commands, or none of them does.

Whether all can be done is decided before the first command, by giving them to the same judge as the door on a copy of
the unit; so a dry run lists every fault, and a file is never taken in by half for a fault of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from data.door import Door
from data.import_table import ImportFault, ImportRow, read_table
from protocols.clock import Stamp, wall_text
from protocols.commands import SPECS, check_value
from protocols.decide import decide
from protocols.errors import CommandFault
from protocols.event import SCHEMA, Command, Event
from protocols.fold import evolve
from protocols.numerals import plain_count, plain_number, reads_two_ways
from protocols.refusals import Refusal


class Kind(NamedTuple):
    """What a file holds: the command of a row, the column of its subject, and commands that one column adds."""

    do: str
    subject: str
    more: Mapping[str, str] = {}

    @property
    def columns(self) -> tuple[str, ...]:
        """Promise the columns that may stand in the header, the subject first."""
        values = [name for name, value in SPECS[self.do].values.items() if value.type not in ("scan", "toml")]
        return (self.subject, *values, *self.more)

    @property
    def needed(self) -> tuple[str, ...]:
        """Promise the columns that must stand in it."""
        return (self.subject, *(name for name, value in SPECS[self.do].values.items() if value.required))


KINDS = {
    "scopes": Kind("add-scope", "tag"),
    "people": Kind("add-person", "id", {"badge": "set-badge"}),
    "chemistries": Kind("confirm-claim", "claim"),
}
# The column that a rule of the door is about, where it is not the subject's.
_ABOUT = {"unknown-protocol": "protocol", "badge-known": "badge", "first-lead": "role", "not-by-hand": "by_hand"}
# Refusals that are about whoever gives the file, not about a row: said once.
_GIVER = frozenset(("unknown-person", "lead-only", "administrator-only", "not-signed-in"))
_WORDS = {"yes": True, "true": True, "no": False, "false": False}


class Asked(NamedTuple):
    """The command of one row, with the row's number."""

    row: int
    command: Command


def planned(door: Door, kind: str, content: bytes, by: str) -> tuple[list[Asked], list[ImportFault]]:
    """Promise the commands of a file, to be given by `by`, and every fault; with one of these none is given.

    Raises ClockError.
    """
    wanted = KINDS[kind]
    rows, faults = read_table(content, wanted.columns, wanted.needed)
    asked: list[Asked] = []
    for row in rows:
        asked += _asked(row, wanted, by, faults)
    faults += _refused(door, asked, wanted)
    return asked, sorted(faults, key=lambda fault: fault.row)


def _asked(row: ImportRow, kind: Kind, by: str, faults: list[ImportFault]) -> Iterator[Asked]:
    subject = row.cells.get(kind.subject, "")
    missing = [name for name in kind.needed if name not in row.cells]
    named = {(fault.row, fault.column) for fault in faults}
    for name in missing:
        if (row.number, name) not in named:
            faults.append(ImportFault(row.number, name, "it is empty", "fill it in"))
    values: dict[str, dict[str, Any]] = {kind.do: {}}
    whole = not missing
    for name, cell in row.cells.items():
        do = kind.more.get(name, kind.do)
        if name == kind.subject:
            continue
        try:
            value = _value(SPECS[do].values[name].type, cell)
            check_value(do, name, SPECS[do].values[name], value)
        except _Unclear as unclear:
            faults.append(ImportFault(row.number, name, str(unclear), unclear.remedy))
            whole = False
        except CommandFault as fault:
            faults.append(ImportFault(row.number, name, str(fault), "correct it"))
            whole = False
        else:
            values.setdefault(do, {})[name] = value
    if whole:
        for do, given in values.items():
            yield Asked(row.number, Command(do, subject, given, by))


class _Unclear(Exception):
    """A cell can't be read for certain; `remedy` says what to write."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.remedy = remedy


def _value(kind: str, cell: str) -> Any:
    if kind == "bool":
        if cell.lower() not in _WORDS:
            raise _Unclear(f"{cell!r} is neither yes nor no", "write yes or no")
        return _WORDS[cell.lower()]
    if kind == "whole":
        count = plain_count(cell)
        if count is None:
            raise _Unclear(f"{cell!r} is not a count", "write it in figures alone, like 3 or 1000")
        return count
    if kind == "number":
        number = plain_number(cell)
        if number is None:
            raise _Unclear(f"{cell!r} is not a number", "write it in figures, like 21 or 21.5, with a point")
        if reads_two_ways(cell):
            thousands, parts = cell.replace(".", ""), f"{number:g}"
            raise _Unclear(f"{cell!r} may be {thousands} or {parts}", f"write {thousands} or {parts}")
        return number
    return cell


def _refused(door: Door, asked: list[Asked], kind: Kind) -> list[ImportFault]:
    """What the door would refuse, row after row, each on the unit as the rows before it leave it."""
    unit, now = door.unit, door.now()
    faults: list[ImportFault] = []
    for row, command in asked:
        if faults and faults[-1].row == row:
            continue  # what follows in a row that was refused would only say so again
        try:
            answer = decide(unit, command, now, door.shelf)
        except CommandFault as fault:
            faults.append(ImportFault(row, kind.subject, str(fault), "correct it"))
            continue
        if isinstance(answer, Refusal):
            if answer.key in _GIVER:
                return [ImportFault(0, "", answer.why, answer.remedy)]
            faults.append(ImportFault(row, _ABOUT.get(answer.key, kind.subject), answer.why, answer.remedy))
            continue
        envelope = (answer.kind, answer.subject, dict(answer.refs))
        unit = evolve(unit, _event(door, unit.seq + 1, envelope, now, command.by, dict(answer.data)), now)
    return faults


def _event(
    door: Door, seq: int, envelope: tuple[str, str, dict[str, Any]], now: Stamp, by: str, data: dict[str, Any]
) -> Event:  # fmt: skip
    reading = door.clock.read()
    wall = wall_text(now.wall_ms, door.unit.settings.zone)
    kind, subject, refs = envelope
    return Event(SCHEMA, seq, door.device, kind, subject, refs, reading.elapsed_ms, wall, reading.boot, by, data)


def give(door: Door, asked: list[Asked]) -> Iterator[tuple[Asked, Event | Refusal]]:
    """Promise the door's answer to each command, in order, up to the first that it refuses after all.

    Raises DiskError; what was answered before is in the record.
    """
    for one in asked:
        answer = door.give(one.command)
        yield one, answer
        if isinstance(answer, Refusal):
            return
