"""decide(unit, command, now) -> one decision | refusal: the only judge of what may happen.

Pure: it reads no clock and no file, and a refusal leaves everything as it was. The door (`data.door`) makes a
decision durable and folds it in.
"""

from __future__ import annotations

from protocols import commands, people, register
from protocols.clock import Stamp
from protocols.context import Context
from protocols.cycle import COMMANDS, decide_cycle
from protocols.errors import Defect
from protocols.event import Command, Decision
from protocols.refusals import Refusal, refuse
from protocols.shelf import Shelf
from protocols.unconfirmed import UNCONFIRMED, flagged, may_be_unconfirmed
from protocols.unit import Unit


def decide(unit: Unit, command: Command, now: Stamp, shelf: Shelf) -> Decision | Refusal:
    """Promise what the command becomes, or why not.

    Raises CommandFault when the command itself can't be read (unknown name, wrong types).
    """
    commands.check(command)
    spec = commands.SPECS[command.do]
    stranger = _who(unit, command, spec, shelf)
    if stranger:
        return stranger
    ctx = Context(unit, command, now, shelf)
    if command.do in COMMANDS:
        answer = decide_cycle(ctx)
        return flagged(answer) if command.by == UNCONFIRMED and isinstance(answer, Decision) else answer
    handler = register.HANDLERS.get(command.do)
    if handler is None:
        raise Defect(f"command {command.do!r} is listed but nobody decides it")
    return handler(ctx)


def _who(unit: Unit, command: Command, spec: commands.Spec, shelf: Shelf) -> Refusal | None:
    if command.by == UNCONFIRMED:
        allowed = spec.open or may_be_unconfirmed(unit, shelf, command)
        return None if allowed else refuse("not-signed-in", do=command.do)
    if spec.open:
        return refuse("sign-in-by", by=command.by)
    if not unit.people:
        # Somebody must be first: an empty unit takes its settings and its first person from anybody.
        if command.do == "set-unit":
            return None
        if command.do == "add-person":
            role = command.values["role"]
            return refuse("first-lead", subject=command.subject, role=role) if role == "technician" else None
    if command.by not in unit.people:
        return refuse("unknown-person", by=command.by)
    if spec.lead and not unit.lead(command.by):
        return refuse("lead-only", do=command.do, by=command.by, role=unit.people[command.by].role)
    chiefs = people.administrators(unit) if spec.admin else []
    if chiefs and command.by not in (p.id for p in chiefs):
        return refuse("administrator-only", do=command.do, by=command.by, role=unit.people[command.by].role)
    return None
