"""From a `[[step]]` table to a `Step`, with every rule that one step alone can break.

Which keys a kind of step may and must carry stands in two tables here, so that a figure which no step of
that kind obeys is a finding and never silently ignored.
"""

from __future__ import annotations

import re
from typing import cast

from protocols.model import (
    BATHS,
    CONDITIONS,
    KINDS,
    NEEDS,
    RECORDS,
    STAGES,
    Figure,
    Kind,
    Limit,
    Move,
    Outcome,
    Step,
)  # fmt: skip
from protocols.read_figures import Table, is_id, shown

SAYS_LONGEST = 90
OUTCOMES_MOST = 8
LIMITS_MOST = 20
_COMMON = (
    "id", "stage", "kind", "says", "when", "cautions", "optional", "begins_cleaning", "ends_cleaning",
    "start_within_s_max",
)  # fmt: skip
# kind: (keys it must carry, keys it may carry)
_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "look": (("outcomes",), ("needs", "records", "bath", "temp_c_min", "temp_c_max")),
    "pass": ((), ("needs",)),
    "count": (("times",), ("needs", "records", "volume_ml", "each_s_min", "alcohol_pct_min", "alcohol_pct_max")),
    "soak": (
        ("bath",),
        (
            "needs", "records", "soak_s_min", "soak_s_max", "over_s_max", "recheck_from_s", "temp_c_min", "temp_c_max",
        ),
    ),
    "reading": (("limit", "fail_back_to"), ()),
    "machine run": (("run_s_min",), ("needs", "records", "run_s_max")),
}  # fmt: skip
# bath of a soak: (figures it must carry, figures it must not carry, why not)
_BATHS: dict[str, tuple[tuple[str, ...], tuple[str, ...], str]] = {
    "detergent": (("soak_s_min",), (), ""),
    "disinfectant": ((), ("soak_s_min", "temp_c_min", "temp_c_max"), "the claim of the bath decides it"),
    "air": (
        ("soak_s_min",),
        ("soak_s_max", "over_s_max", "recheck_from_s", "temp_c_min", "temp_c_max"),
        "drying goes on until the scope is dry",
    ),
}
_ALL_KEYS = frozenset(_COMMON).union(*(must + may for must, may in _KEYS.values()))
_FIGURES = tuple(sorted(k for k in _ALL_KEYS if re.search(r"_(s|c|ml|pct)(_min|_max)?$", k) or k == "times"))
_PAIRS = (
    ("soak_s_min", "soak_s_max"), ("temp_c_min", "temp_c_max"), ("run_s_min", "run_s_max"),
    ("alcohol_pct_min", "alcohol_pct_max"),
)  # fmt: skip
_LIMIT_FIGURES = ("alert_from", "action_from", "pass_below", "pass_to")
_MOVES = {"next": Move.NEXT, "again": Move.AGAIN, "leak": Move.LEAK, "out": Move.OUT}


def read_step(table: Table) -> tuple[Step, bool]:
    """Promise the step of that table and whether it can be placed among the others.

    Findings go to the table's list. A step can be placed when all that the order of steps rests on was
    readable (id, stage, kind, when, bath, outcomes, needs, the flags); a bad figure or
    sentence does not stand in the way.
    """
    before = len(table.findings)
    step_id = table.name("id")
    stage = table.word("stage", STAGES)
    kind = table.word("kind", KINDS)
    when = table.word("when", CONDITIONS, "always")
    bath = table.word("bath", BATHS, "")
    needs = table.words("needs", NEEDS)
    outcomes = _outcomes(table)
    fail_back_to = table.name("fail_back_to") if "fail_back_to" in table.data else ""
    optional, begins, ends = (table.flag(k) for k in ("optional", "begins_cleaning", "ends_cleaning"))
    if kind:
        _keys_of_kind(table, kind)
    placed = len(table.findings) == before
    table.only(_ALL_KEYS)
    figures = {name: table.figure(name) for name in _FIGURES}
    step = Step(
        step_id, stage, cast(Kind, kind), table.text("says", SAYS_LONGEST), when,
        table.texts("cautions", 10), needs, table.words("records", RECORDS), optional, begins, ends, bath,
        outcomes, _limits(table) if "limit" in table.data else (), fail_back_to, **figures,
    )  # fmt: skip
    _rules(table, step)
    return step, placed


def _keys_of_kind(table: Table, kind: str) -> None:
    must, may = _KEYS[kind]
    for name in must:
        if name not in table.data:
            table.missing(name, f'a step of kind "{kind}" needs it')
    for name in table.data:
        if name in _ALL_KEYS and name not in (*_COMMON, *must, *may):
            table.fault(name, f'does not belong to a step of kind "{kind}"', "take it out or change the kind")


def _outcomes(table: Table) -> tuple[Outcome, ...]:
    if "outcomes" not in table.data:
        return ()
    inner = table.table("outcomes", 'write { clean = "next", debris = "again" }')
    if inner is None:
        return ()
    if not 1 <= len(inner.data) <= OUTCOMES_MOST:
        table.fault("outcomes", f"has {len(inner.data)} entries", f"write 1 to {OUTCOMES_MOST} outcomes")
        return ()
    return tuple(_outcome(inner, word) for word in inner.data)


def _outcome(table: Table, word: str) -> Outcome:
    name = word if is_id(word) else shown(word)
    target = table.data[word]
    if not is_id(word):
        table.fault(name, "is not a word for an outcome", 'use lower case, like "debris"')
    if isinstance(target, str) and target in _MOVES:
        return Outcome(word, _MOVES[target])
    if isinstance(target, str) and target.startswith("back:") and is_id(target[5:]):
        return Outcome(word, Move.BACK, target[5:])
    table.fault(name, f"{shown(target)} leads nowhere", "use next, again, back:STEP, leak or out")
    return Outcome(word, Move.NEXT)


def _limits(table: Table) -> tuple[Limit, ...]:
    limits: list[Limit] = []
    for row in table.rows("limit", LIMITS_MOST):
        row.only(("method", "meter", "unit", *_LIMIT_FIGURES))
        figures: dict[str, Figure | None] = {name: row.figure(name) for name in _LIMIT_FIGURES}
        limit = Limit(row.text("method", 40), row.text("meter", 40), row.text("unit", 20), **figures)
        given = {name for name in _LIMIT_FIGURES if name in row.data}
        if given not in ({"action_from"}, {"alert_from", "action_from"}, {"pass_below"}, {"pass_to"}):
            row.fault(
                "", "has no single meaning",
                "give action_from (and alert_from), or pass_below, or pass_to, and nothing else",
            )  # fmt: skip
        low, high = limit.alert_from, limit.action_from
        if low and high and low.value >= high.value:
            row.fault("alert_from", f"{low.value:g} is not below action_from {high.value:g}", "mend one of the two")
        # A reading finds its limit by method and meter, so a pair is there once and "any" alone.
        others = [o.meter for o in limits if o.method == limit.method]
        if limit.meter in others or (others and "any" in (limit.meter, *others)):
            row.fault(
                "meter",
                "another limit of this method already covers this meter",
                "keep one limit for each meter",
            )
        limits.append(limit)
    return tuple(limits)


def _rules(table: Table, step: Step) -> None:
    _pairs(table, step)
    if step.kind == "soak" and step.bath:
        _soak(table, step)
    if step.kind == "look" and step.bath not in ("", "detergent"):
        table.fault("bath", "only a soak has contact in this bath", 'make it kind "soak", or use bath "detergent"')
    limited = "temp_c_min" in table.data or "temp_c_max" in table.data
    if step.kind == "look" and limited and "temp_c" not in step.records:
        table.fault("records", "a temperature limit stands here but none is recorded", 'add "temp_c"')
    if step.kind == "look" and limited and "bath" not in table.data:
        table.fault("bath", "a temperature limit stands here but no bath", 'write bath = "detergent", or take it out')
    has_range = [name in table.data for name in ("alcohol_pct_min", "alcohol_pct_max")]
    if any(has_range) != ("alcohol_pct" in step.records) or any(has_range) != all(has_range):
        table.fault(
            "alcohol_pct_min", "an alcohol strength needs its range and its record together",
            'give alcohol_pct_min, alcohol_pct_max and records "alcohol_pct", or none of them',
        )  # fmt: skip
    if step.kind == "machine run" and step.when != "machine":
        table.fault("when", "a machine run is one of two ways to disinfect", 'write when = "machine"')


def _pairs(table: Table, step: Step) -> None:
    for low_name, high_name in _PAIRS:
        low, high = getattr(step, low_name), getattr(step, high_name)
        if low and high and low.value > high.value:
            table.fault(high_name, f"{high.value:g} is below {low_name} {low.value:g}", "mend one of the two")


def _soak(table: Table, step: Step) -> None:
    must, must_not, why = _BATHS[step.bath]
    for name in must:
        if name not in table.data:
            table.missing(name, f"a soak in {step.bath} needs a shortest time")
    for name in must_not:
        if name in table.data:
            table.fault(name, f"does not belong to a soak in {step.bath}", f"take it out: {why}")
    if "soak_s_max" in table.data and "over_s_max" in table.data:
        table.fault("over_s_max", "stands beside soak_s_max", "keep one of the two: they limit the same soak")
    if step.bath == "disinfectant" and step.when != "soak":
        table.fault("when", "a soak in disinfectant is one of two ways to disinfect", 'write when = "soak"')
