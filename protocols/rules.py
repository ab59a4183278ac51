"""The rules that a whole protocol must keep before any cycle may run by it.

They read a `Protocol` whose steps are each readable, and give findings. With them every cycle can end: each
look of the ordinary path has an outcome "next", going back only leads to earlier steps, and the last step is
storage; after a leak the repair branch is all that is left, and it ends out of service.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from protocols.errors import Finding
from protocols.model import STAGES, Claim, Move, Protocol, Step

Fault = tuple[str, str, str]  # key, rule, remedy
_STAGE_OF_BATH = {"detergent": "clean", "disinfectant": "disinfect", "air": "dry"}


def order_findings(protocol: Protocol, file: str) -> list[Finding]:
    """Promise a finding for each rule that the steps together break."""
    groups: tuple[Callable[[Protocol], Iterator[Fault]], ...] = (
        _ids, _stages, _moves, _leak_test, _repair, _cleaning, _disinfection, _channels, _ending,
    )  # fmt: skip
    return [Finding(file, *fault) for group in groups for fault in group(protocol)]


def claim_findings(protocol: Protocol, claims: dict[str, Claim], file: str) -> list[Finding]:
    """Promise a finding for each claim id of the protocol that no manual soak can rest on."""
    findings = []
    for claim_id in protocol.claims:
        claim = claims.get(claim_id)
        if claim is None:
            rule, remedy = "is not among the chemistries", f"use one of: {', '.join(claims)}"
        elif claim.use != "manual":
            rule, remedy = f"is a {claim.use} claim", "a manual soak needs a manual claim"
        elif not claim.enabled:
            rule, remedy = "is not enabled", "confirm it against the label first, or take it out"
        else:
            continue
        findings.append(Finding(file, f'claims "{claim_id}"', rule, remedy))
    return findings


def _at(protocol: Protocol, step: Step, name: str = "") -> str:
    number = next(n for n, s in enumerate(protocol.steps, 1) if s is step)
    return f'step[{number}] "{step.id}"' + (f".{name}" if name else "")


def _is_leak_test(step: Step) -> bool:
    return any(o.move is Move.LEAK for o in step.outcomes)


def _stage_of(step: Step) -> str:
    """Promise the only stage in which such a step makes sense, or "" where several do."""
    if _is_leak_test(step):
        return "leak test"
    if step.kind == "machine run":
        return "disinfect"
    # A look has no contact in disinfectant or air; that is a fault of its bath, not of its stage.
    return _STAGE_OF_BATH.get(step.bath, "") if step.kind == "soak" or step.bath == "detergent" else ""


def _ids(protocol: Protocol) -> Iterator[Fault]:
    seen: set[str] = set()
    for step in protocol.steps:
        if step.id in seen:
            yield _at(protocol, step, "id"), "stands there twice", "give each step its own id"
        seen.add(step.id)


def _stages(protocol: Protocol) -> Iterator[Fault]:
    reached = 0
    for step in protocol.steps:
        belongs = _stage_of(step)
        if belongs and step.stage not in (belongs, "repair"):
            yield (
                _at(protocol, step, "stage"), f'"{step.stage}" is not where this step belongs',
                f'write stage = "{belongs}"',
            )  # fmt: skip
        if step.stage == "repair":
            continue
        place = STAGES.index(step.stage)
        if place < reached:
            yield (
                _at(protocol, step, "stage"), f'"{step.stage}" comes after "{STAGES[reached]}"',
                f"order the steps by stage: {', '.join(STAGES)}",
            )  # fmt: skip
        reached = max(reached, place)


def _moves(protocol: Protocol) -> Iterator[Fault]:
    places = {step.id: number for number, step in enumerate(protocol.steps)}
    for number, step in enumerate(protocol.steps):
        targets = [(f"outcomes.{o.word}", o.back_to) for o in step.outcomes if o.move is Move.BACK]
        targets += [("fail_back_to", step.fail_back_to)] if step.fail_back_to else []
        for name, target in targets:
            key = _at(protocol, step, name)
            if target not in places:
                yield key, f'"{target}" is not a step', "name a step of this protocol"
            elif places[target] >= number:
                yield key, f'"{target}" does not come before this step', "name an earlier step"
            elif protocol.steps[places[target]].when not in ("always", step.when):
                when = protocol.steps[places[target]].when
                yield key, f'"{target}" is only there when "{when}"', "name a step that every such cycle has"
        if step.kind == "look":
            yield from _leaving(protocol, step)


def _leaving(protocol: Protocol, step: Step) -> Iterator[Fault]:
    moves = {o.move for o in step.outcomes}
    if moves <= {Move.AGAIN, Move.BACK}:
        yield _at(protocol, step, "outcomes"), "the step can never be left", "let one outcome be next or out"
    elif step.when != "leak" and Move.NEXT not in moves:
        yield (
            _at(protocol, step, "outcomes"),
            "no outcome goes on, so no cycle can end",
            "let one outcome be next",
        )


def _sure(protocol: Protocol, step: Step, what: str, when: str = "always") -> Iterator[Fault]:
    """A step on which a patient's safety rests is there in every cycle that needs it."""
    if step.optional:
        yield _at(protocol, step, "optional"), f"{what} can't be left out", "take optional out"
    if step.when != when:
        yield _at(protocol, step, "when"), f"{what} is there in every cycle", f'write when = "{when}"'


def _leak_test(protocol: Protocol) -> Iterator[Fault]:
    tests = [s for s in protocol.steps if _is_leak_test(s)]
    baths = [s for s in protocol.steps if s.bath in ("detergent", "disinfectant")]
    if not tests:
        yield "step", "no leak test", 'add a look with an outcome "leak" before the scope is immersed'
        return
    for step in tests:
        yield from _sure(protocol, step, "a leak test")
    if baths and protocol.steps.index(tests[0]) > protocol.steps.index(baths[0]):
        yield (
            _at(protocol, baths[0], "bath"), "the scope is immersed before its leak test",
            f'move "{tests[0].id}" before it',
        )  # fmt: skip


def _repair(protocol: Protocol) -> Iterator[Fault]:
    branch = [s for s in protocol.steps if s.when == "leak"]
    for step in protocol.steps:
        if (step.when == "leak") != (step.stage == "repair"):
            yield (
                _at(protocol, step, "stage"), "the repair stage and the leak branch are the same steps",
                'write stage = "repair" and when = "leak" together',
            )  # fmt: skip
    for step in branch:
        if step.bath or step.kind != "look":
            yield (
                _at(protocol, step, "bath" if step.bath else "kind"),
                "a leaking scope is never immersed again",
                "use a look without a bath",
            )  # fmt: skip
        if step.optional:
            yield _at(protocol, step, "optional"), "the leak branch can't be left out", "take optional out"
    if not branch:
        if any(_is_leak_test(s) for s in protocol.steps):
            yield "step", "no leak branch", 'add looks with when = "leak" and stage = "repair"'
        return
    if not all(
        any(word in getattr(s, name) for s in branch) for name, word in (("needs", "tag"), ("records", "owner"))
    ):
        yield "step", "the leak branch names no tag or no owner", 'let a step need "tag" and record "owner"'
    if any(o.move is Move.NEXT for o in branch[-1].outcomes):
        yield (
            _at(protocol, branch[-1], "outcomes"), "a leaking scope would end like a finished one",
            'let the last outcome of the leak branch be "out"',
        )  # fmt: skip


def _cleaning(protocol: Protocol) -> Iterator[Fault]:
    marks: dict[str, Step] = {}
    for name, stages in (("begins_cleaning", ("clean",)), ("ends_cleaning", ("clean", "rinse"))):
        found = [s for s in protocol.steps if getattr(s, name)]
        if len(found) != 1:
            yield "step", f"{len(found)} steps have {name}", "mark exactly one"
            continue
        marks[name] = found[0]
        if name == "begins_cleaning" and found[0].kind != "look":
            yield (
                _at(protocol, found[0], name), f'cleaning can\'t begin with a step of kind "{found[0].kind}"',
                "mark the look with which the scope is immersed",
            )  # fmt: skip
        yield from _sure(protocol, found[0], f"the step that has {name}")
        if found[0].stage not in stages:
            yield (
                _at(protocol, found[0], name), f'stage "{found[0].stage}" is not cleaning',
                f"mark a step of stage {' or '.join(stages)}",
            )  # fmt: skip
    begins, ends = marks.get("begins_cleaning"), marks.get("ends_cleaning")
    if begins and ends and protocol.steps.index(ends) < protocol.steps.index(begins):
        yield _at(protocol, ends, "ends_cleaning"), "cleaning ends before it begins", "mark a later step"
    for step in protocol.steps:
        if step.when == "delayed" and step.kind == "soak" and step.optional:
            yield _at(protocol, step, "optional"), "a delayed scope could go without its extended soak", "take it out"
        if begins and step.when == "delayed" and protocol.steps.index(step) < protocol.steps.index(begins):
            yield (
                _at(protocol, step, "when"), "the delay is known only when cleaning begins",
                f'move it after "{begins.id}"',
            )  # fmt: skip


def _disinfection(protocol: Protocol) -> Iterator[Fault]:
    ways = [s for s in protocol.steps if s.disinfects]
    for step in ways:
        yield from _sure(protocol, step, "disinfection", step.when)
    if protocol.disinfect_by and not any(s.when == protocol.disinfect_by for s in ways):
        yield (
            "disinfect_by", f'no step disinfects by "{protocol.disinfect_by}"',
            'add a soak in disinfectant (when = "soak") or a machine run (when = "machine")',
        )  # fmt: skip
    for step in ways:
        if step.kind != "soak":
            continue
        for need in ("under", "parts", "filled") if protocol.channels else ("under", "parts"):
            if need not in step.needs:
                yield _at(protocol, step, "needs"), f'contact can start without "{need}"', f'add "{need}"'
        after = protocol.following(step.id, frozenset({"soak"})) if step.id in protocol.positions else ""
        rinse = protocol.step(after) if after else None
        if rinse is None or rinse.kind != "count" or "fresh" not in rinse.needs or rinse.optional:
            yield (
                _at(protocol, step), "no rinse follows the soak",
                'let the next step be a count that needs "fresh" and is not optional',
            )  # fmt: skip


def _channels(protocol: Protocol) -> Iterator[Fault]:
    for step in protocol.steps:
        if "filled" in step.needs and not protocol.channels:
            yield _at(protocol, step, "needs"), "the scope has no channel to fill", 'take "filled" out'


def _ending(protocol: Protocol) -> Iterator[Fault]:
    drying = [s for s in protocol.steps if s.kind == "soak" and s.bath == "air"]
    if not drying:
        yield "step", "no drying by air", 'add a soak with bath = "air"'
    for step in drying[:1]:
        yield from _sure(protocol, step, "drying")
    path = [s for s in protocol.steps if s.stage != "repair"]
    last = path[-1] if path else None
    if last is None or last.stage != "store" or last.kind != "look":
        yield "step", "the cycle does not end with storage", 'let the last step be a look of stage "store"'
        return
    yield from _sure(protocol, last, "storage")
