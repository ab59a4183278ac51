"""decide for everything that is done to a scope: one total table of (state, command).

Rules for this file: every state a scope can be in is a row, every command on a scope is a column, and every cell says
either which handler answers or which refusal does. A missing cell is a defect found at import, so a forgotten case
and a forbidden one can't look alike. Cells that begin with "!" are refusals. Handlers may still refuse for reasons of
value (too early, too cold, no strip); what they may not do is change anything.
"""

from __future__ import annotations

from collections.abc import Callable

from protocols import counts, faults, handover, issue, receipt, soak, steps, stored
from protocols.clock import longest_s
from protocols.context import Context
from protocols.errors import Defect
from protocols.event import Decision
from protocols.model import Step
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.states import State as State
from protocols.states import state_of as state_of
from protocols.unit import Cycle

# Two fingers on one button, or a bounce of a wet screen: the same command again within this time is one tap.
DOUBLE_S = 0.5


TABLE_TEXT = """
state    receive   look    pass    count   start        lift      check   read    run-end   skip    choose  interrupt
NONE     receive   !none   !none   !none   !none        !none     !none   !none   !none     !none   !none   !none
LOOK     !in       look    !other  !other  !other       !idle     !other  !other  !other    skip    choose  !idle
PASS     !in       !other  pass    !other  !other       !idle     !other  !other  !other    skip    choose  !idle
COUNT    !in       !other  !other  count   !other       !idle     !other  !other  !other    skip    choose  !idle
RINSE    !in       !other  !other  !idle   start-count  !idle     !other  !other  !other    skip    choose  !idle
READING  !in       !other  !other  !other  !other       !idle     !other  read    !other    skip    choose  !idle
OUT      !in       !other  !other  !other  start-soak   !idle     !other  !other  !other    skip    choose  !idle
IN       !in       !soak   !soak   !soak   !soak        lift      !soak   !soak   !soak     !soak   !soak   interrupt
AIR_OFF  !in       !other  !other  !other  start-air    !idle     !idle   !other  !other    skip    choose  !idle
AIR_ON   !in       !other  !other  !other  !other       !other    check   !other  !other    !other  choose  interrupt
RUN_OFF  !in       !other  !other  !other  start-run    !idle     !other  !other  !idle     skip    choose  !idle
RUN_ON   !in       !run    !run    !run    !run         !run      !run    !run    end-run   !run    !run    interrupt
WAITING  !in       !wait   !wait   !wait   !wait        !wait     !wait   !wait   !wait     !wait   !wait   !wait
OFFERED  !in       !gone   !gone   !gone   !gone        !gone     !gone   !gone   !gone     !gone   !gone   !gone

state    undo   note   out-of-service  decide   correct  void   release
NONE     !none  !none  !none           stored   correct  void   release
LOOK     undo   note   out             decide   correct  void   !in
PASS     undo   note   out             decide   correct  void   !in
COUNT    undo   note   out             decide   correct  void   !in
RINSE    undo   note   out             decide   correct  void   !in
READING  undo   note   out             decide   correct  void   !in
OUT      undo   note   out             decide   correct  void   !in
IN       undo   note   out             decide   correct  void   !in
AIR_OFF  undo   note   out             decide   correct  void   !in
AIR_ON   undo   note   out             decide   correct  void   !in
RUN_OFF  undo   note   out             decide   correct  void   !in
RUN_ON   undo   note   out             decide   correct  void   !in
WAITING  undo   note   out             decide   correct  void   !in
OFFERED  !gone  !gone  out             !gone    !gone    void   !gone

state    issue-scope  procedure-ended  report-fault  decontaminate  send-for-repair  return-checked
NONE     issue        ended            fault         clean-off      send             return
LOOK     !in          !in              fault         !in            !in              !in
PASS     !in          !in              fault         !in            !in              !in
COUNT    !in          !in              fault         !in            !in              !in
RINSE    !in          !in              fault         !in            !in              !in
READING  !in          !in              fault         !in            !in              !in
OUT      !in          !in              fault         !in            !in              !in
IN       !in          !in              fault         !in            !in              !in
AIR_OFF  !in          !in              fault         !in            !in              !in
AIR_ON   !in          !in              fault         !in            !in              !in
RUN_OFF  !in          !in              fault         !in            !in              !in
RUN_ON   !in          !in              fault         !in            !in              !in
WAITING  !in          !in              fault         !in            !in              !in
OFFERED  !gone        !gone            !gone         !gone          !gone            !gone

state    hand-over  take-over  decline-offer  confirm-handover
NONE     !none      take       decline        !no-offer
LOOK     offer      take       decline        !no-offer
PASS     offer      take       decline        !no-offer
COUNT    offer      take       decline        !no-offer
RINSE    offer      take       decline        !no-offer
READING  offer      take       decline        !no-offer
OUT      offer      take       decline        !no-offer
IN       offer      take       decline        !no-offer
AIR_OFF  offer      take       decline        !no-offer
AIR_ON   offer      take       decline        !no-offer
RUN_OFF  offer      take       decline        !no-offer
RUN_ON   offer      take       decline        !no-offer
WAITING  offer      take       decline        !no-offer
OFFERED  !gone      take       decline        confirm
"""

HANDLERS: dict[str, Callable[[Context], Decision | Refusal]] = {
    "receive": receipt.receive, "look": steps.look, "pass": steps.brush_pass, "count": counts.count,
    "start-count": counts.start_count, "read": steps.read, "skip": steps.skip, "choose": steps.choose,
    "start-soak": soak.start_soak, "lift": soak.lift, "start-air": soak.start_air, "check": soak.check_dry,
    "start-run": soak.start_run, "end-run": soak.end_run, "interrupt": soak.interrupt, "undo": receipt.undo,
    "note": receipt.note, "out": receipt.out_of_service, "decide": receipt.decide_hold, "correct": receipt.correct,
    "void": receipt.void, "release": stored.release, "stored": stored.decide_stored,
    "issue": issue.issue_scope, "ended": issue.procedure_ended, "fault": faults.report_fault,
    "clean-off": faults.decontaminate, "send": faults.send_for_repair, "return": faults.return_checked,
    "offer": handover.hand_over, "take": handover.take_over, "decline": handover.decline_offer,
    "confirm": handover.confirm_handover,
}  # fmt: skip
_NO = {
    "!none": "no-cycle", "!in": "in-cycle", "!other": "other-step", "!idle": "not-running", "!soak": "in-soak",
    "!run": "run-on", "!wait": "wait-lead", "!gone": "offered", "!no-offer": "no-offer",
}  # fmt: skip
_EXPECTED = {
    State.LOOK: "look", State.PASS: "pass", State.COUNT: "count", State.RINSE: "rinse", State.READING: "reading",
    State.OUT: "soak", State.IN: "lift", State.AIR_OFF: "air", State.AIR_ON: "dry", State.RUN_OFF: "run",
    State.RUN_ON: "run-end", State.WAITING: "lead", State.NONE: "receive", State.OFFERED: "there",
}  # fmt: skip


def read_table(text: str) -> dict[tuple[State, str], str]:
    """Promise the whole table; Defect unless every state has exactly one known cell for every command."""
    table: dict[tuple[State, str], str] = {}
    for block in text.strip().split("\n\n"):
        head, *rows = [line.split() for line in block.splitlines()]
        for name, *cells in rows:
            if len(cells) != len(head) - 1:
                raise Defect(f"row {name} has {len(cells)} cells, {len(head) - 1} are needed")
            for command, cell in zip(head[1:], cells, strict=True):
                if cell not in HANDLERS and cell not in _NO:
                    raise Defect(f"cell {name}/{command} names {cell!r}, which is neither handler nor refusal")
                table[State[name], command] = cell
    commands = {command for _, command in table}
    holes = [(s.name, c) for s in State for c in commands if (s, c) not in table]
    if holes:
        raise Defect(f"the table has holes: {holes}")
    return table


TABLE = read_table(TABLE_TEXT)
COMMANDS = frozenset(command for _, command in TABLE)
# Commands with which a step begins; a lead's decision, a choice or a note leaves it still to be begun.
_BEGINNING = ("look", "pass", "count", "start", "read", "skip")


def decide_cycle(ctx: Context) -> Decision | Refusal:
    """Promise what a command on a scope becomes: one decision, or a refusal that changes nothing."""
    cycle = ctx.unit.cycles.get(ctx.subject)
    step = ctx.shelf.protocol(cycle.text_sha256).step(cycle.step) if cycle else None
    if cycle is not None:
        stale = _stale(ctx, cycle)
        if stale:
            return stale
    state = state_of(cycle, step)
    cell = TABLE[state, ctx.command.do]
    if cell.startswith("!"):
        return _refusal(ctx, cell, state, cycle, step)
    answer = HANDLERS[cell](ctx)
    if isinstance(answer, Refusal) or cycle is None:
        return answer
    return _unfinished(answer, cycle) or faults.with_fault(ctx, _with_lateness(answer, cycle, ctx), cycle)


def _stale(ctx: Context, cycle: Cycle) -> Refusal | None:
    command = ctx.command
    # Messages of another handheld know by themselves whether they were taken.
    again = command.do == cycle.last_do and command.do not in handover.SIGNED
    if again and longest_s(cycle.last_at, ctx.now) < DOUBLE_S:
        return refuse("doubled", do=command.do, subject=ctx.subject, within=DOUBLE_S)
    if command.after is not None and command.after != cycle.last_seq:
        return refuse("stale-view", subject=ctx.subject, seen=command.after, last=cycle.last_seq)
    return None


def _refusal(ctx: Context, cell: str, state: State, cycle: Cycle | None, step: Step | None) -> Refusal:
    if state is State.NONE and ctx.subject not in ctx.unit.scopes:
        return refuse("unknown-scope", subject=ctx.subject)
    return refuse(
        _NO[cell],
        subject=ctx.subject,
        do=ctx.command.do,
        step=step.id if step else "",
        says=step.says if step else "",
        kind=step.kind if step else "",
        bath=cycle.soak.label if cycle and cycle.soak else aside("its-soak"),
        why=cycle.hold.why if cycle and cycle.hold else "",
        device=cycle.offer.to if cycle and cycle.offer else "",
        expects=aside(f"expect-{_EXPECTED[state]}"),
    )


def _unfinished(decision: Decision, cycle: Cycle) -> Refusal | None:
    # Whatever path a protocol takes, no cycle ends as completed without the two things that storage rests on.
    if decision.data.get("ends") != "completed" or (cycle.disinfected and cycle.dried is not None):
        return None
    why = aside("not-dried" if cycle.disinfected else "not-disinfected")
    return refuse("unfinished", subject=cycle.scope, why=why)


def _with_lateness(decision: Decision, cycle: Cycle, ctx: Context) -> Decision:
    # A step that had to begin within a time has begun with this event, unless the event leaves the step as it was.
    timer = cycle.timer
    if timer is None or timer.kind != "start" or decision.kind not in _BEGINNING or timer.max_s is None:
        return decision
    data = dict(decision.data)
    data.setdefault("timer", None)
    over_s = timer.already_s + longest_s(timer.since, ctx.now) - timer.max_s
    if over_s > 0:
        data["start_late_s"] = over_s
    return Decision(decision.kind, decision.subject, decision.refs, data)
