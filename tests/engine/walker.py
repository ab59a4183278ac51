"""A bench where anything may happen in any order: seeded commands, good and bad, on clocks that step and reboot.

Beside the engine it keeps a small account of its own, of true time and of who used what, and holds each event
against it.
"""

from __future__ import annotations

from random import Random
from typing import Any

from driver import SCOPES, Bench

from protocols.clock import local_date, wall_text
from protocols.commands import SPECS, Value
from protocols.commands_between import SPECS_BETWEEN
from protocols.cycle import State
from protocols.errors import CommandFault
from protocols.event import Event
from protocols.lane import lanes
from protocols.prompts import Level, calls_between, due
from protocols.refusals import Refusal

TAGS = ("B2", "B3", "D6", "L8")
BATHS = ("H4", "H5", "W1", "W2", "W3", "W4")
CLAIMS = ("opa-055-20c", "h2o2-75", "opa-055-25c-machine", "glut-2-society-20c", "paa-02-sterilant")
# Rare in a walk: they move no scope, and would only take the place of what does.
RARE = {"add-person", "retire-person", "set-badge", "set-pin", "sign-in", "confirm-acts", *SPECS_BETWEEN}
STRIPS, CONTAINERS = ("S", "S2", "STRIP-1"), ("K1", "K2")
WAITS_S = (0, 0.2, 0.5, 1, 3, 9, 11, 60, 61, 300, 720, 1300, 4000)
NUMBERS = (0, 1, 15, 19.9, 20, 21, 30, 35, 60, 70, 90, 99, 600, 3600, -1, 1e9)
TEXTS = (
    "clean",
    "debris",
    "leak",
    "tight",
    "under",
    "hung",
    "ready",
    "protein",
    "any",
    "M1",
    "r",
    "strip-40",
    "\x07",
    "",
)


class Walker:
    """One seeded walk. `account` fails the test for any event that its own account can't agree with."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.bench = Bench()
        self.true: dict[str, int] = {}  # cycle: true ms at which what runs was started
        self.holders: dict[tuple[str, str], list[tuple[int, str]]] = {}  # (kind, id): (seq, cycle) that used it
        self.restarts = 0
        self.ends: list[str] = []
        self.refusals: set[str] = set()

    def walk(self, steps: int) -> None:
        for _ in range(steps):
            share = self.chance.random()
            self.bench.watched = self.chance.random() < 0.05
            if share < 0.70:
                self.nudge(self.chance.choice(TAGS))
            elif share < 0.85:
                self.anything()
            elif share < 0.88:
                self.give("undo", self.chance.choice(TAGS))
            else:
                self.time_passes()
            self.look_at_prompts()

    def give(self, do: str, subject: str, by: str = "ann", **values: Any) -> None:
        before = self.bench.unit
        try:
            answer = self.bench.give(do, subject, by, **values)
        except CommandFault:
            assert self.bench.unit is before
            return
        if isinstance(answer, Refusal):
            self.refusals.add(answer.key)
            assert self.bench.unit is before and answer.why and answer.remedy
            return
        self.account(answer)

    def nudge(self, tag: str) -> None:
        """The ordinary next thing for a scope, or what has to be there before it."""
        bench, chance = self.bench, self.chance
        if tag not in bench.unit.cycles:
            ended = wall_text(bench.clock.read().wall_ms - chance.choice((60, 600, 3500, 3700)) * 1000, "UTC")
            given = {"case": "c", "procedure_date": ended[:10], "procedure_type": "x", "precleaned": "yes"}
            if chance.random() < 0.9:
                given["procedure_end"] = ended
            self.give("receive", tag, **given)
            self.give("correct", tag, what="service", reason="r") if chance.random() < 0.3 else None
            return
        if bench.state(tag) is State.WAITING:
            decision = chance.choice(("continue", "clean-again", "disinfect-again", "continue"))
            self.give("decide", tag, decision=decision, reason="r")
            return
        if chance.random() < 0.8:
            bench.wait(bench.left_s(tag))
        step = bench.step(tag)
        label = chance.choice([b for b in BATHS if self._serves(b, tag)] or ["W1"])
        if (
            step is not None
            and step.bath in ("detergent", "disinfectant")
            and bench.state(tag) in (State.LOOK, State.OUT)
        ):
            if not self._serves(label, tag):
                label = chance.choice(BATHS[2:] if step.bath == "detergent" else BATHS[:2])
                if not any(c.soak and c.soak.label == label for c in bench.unit.cycles.values()):
                    self.give("close-bath", label, reason="r")
                self.pour(label, step.bath)
            if step.bath == "disinfectant" and chance.random() < 0.8:
                result = "fail" if chance.random() < 0.05 else "pass"
                self.give("strip-test", label, scope=tag, result=result, strip_lot="S")
        bench.wait(0.6)
        do, values = bench.ordinary(tag, label, label)
        self.give(do, tag, chance.choice(("ann", "tim")), **self.slipped(do, values))

    def slipped(self, do: str, values: dict[str, Any]) -> dict[str, Any]:
        """The values, and now and then a slip of the finger in one of them."""
        chance = self.chance
        if chance.random() < 0.8:
            return values
        name = chance.choice(sorted(SPECS[do].values))
        known = [t for b in self.bench.unit.baths.values() for t in b.tests]
        if name == "test" and known:
            return {**values, "test": chance.choice(known)}
        if chance.random() < 0.3:
            return {n: v for n, v in values.items() if n != name}
        return {**values, name: self.value(name, SPECS[do].values[name])}

    def _serves(self, label: str, tag: str) -> bool:
        bath, step = self.bench.unit.baths.get(label), self.bench.step(tag)
        if bath is None or step is None or bath.closed or bath.kind != step.bath:
            return False
        return bath.cycle in ("", self.bench.cycle(tag).id) if bath.kind == "detergent" else bath.claim in CLAIMS[:2]

    def pour(self, label: str, kind: str) -> None:
        today = local_date(self.bench.clock.read().wall_ms, "UTC").isoformat()
        claim = {"claim": self.chance.choice(CLAIMS)} if kind == "disinfectant" else {}
        activated = {"activated": today} if self.chance.random() < 0.8 else {}
        self.give("pour-bath", label, kind=kind, lot="L", expires="2030-01-01", opened=today, **claim, **activated)

    def anything(self) -> None:
        """Any command, on anything, with values that may fit."""
        chance = self.chance
        do = chance.choice(sorted(SPECS if chance.random() < 0.1 else SPECS.keys() - RARE))
        spec = SPECS[do]
        if do in ("void", "out-of-service", "close-bath") and chance.random() < 0.8:
            return
        pools = {"scope": TAGS, "bath": BATHS, "person": ("ann", "eve"), "any": TAGS + BATHS, "unit": ("unit",)}
        pools.update(strips=STRIPS, container=CONTAINERS, limits=tuple(self.bench.shelf.limits.sets), claim=CLAIMS)
        subject = chance.choice(pools.get(spec.on, tuple(self.bench.shelf.shipped)))
        values = {n: self.value(n, v) for n, v in spec.values.items() if v.required or chance.random() < 0.7}
        step = self.bench.step(subject)
        if do == "look" and step is not None and step.outcomes and chance.random() < 0.8:
            values["outcome"] = chance.choice(step.outcomes).word
        if do == "choose":
            values["way"] = values.pop("by", "soak")
        self.give(do, subject, chance.choice(("ann", "ann", "tim", "nobody", "unconfirmed")), **values)

    def value(self, name: str, spec: Value) -> Any:
        chance = self.chance
        named: dict[str, tuple[Any, ...]] = {
            "bath": BATHS, "claim": CLAIMS, "scope": TAGS, "protocol": tuple(SCOPES.values()),
            "temp_c": (15, 21, 25, 30),
        }  # fmt: skip
        named.update(container=CONTAINERS, strip_lot=STRIPS, type=("OPA 0.3 %", "glutaraldehyde 1.5 %"))
        if name in named:
            return chance.choice(named[name])
        if spec.choices:
            return chance.choice(spec.choices)
        wall = wall_text(self.bench.clock.read().wall_ms - chance.choice((-60, 600, 7200)) * 1000, "UTC")
        pools: dict[str, Any] = {
            "bool": (True, True, True, False), "number": NUMBERS, "date": (wall[:10], "2030-01-01", "x"),
            "time": (wall,), "zone": ("UTC", "Asia/Kathmandu"),
        }  # fmt: skip
        return chance.choice(pools.get(spec.type, TEXTS))

    def time_passes(self) -> None:
        bench, chance = self.bench, self.chance
        before, unit = bench.now, bench.unit
        share = chance.random()
        if share < 0.75:
            bench.wait(chance.choice(WAITS_S))
            assert all(c.times > 0 for c in calls_between(unit, before, bench.now))
        elif share < 0.85:
            bench.clock.step(chance.choice((-864_000, -3600, -60, 60, 3600)))
        else:
            bench.reboot(chance.choice((0, 1, 60, 4000, 1_300_000)))
            self.restarts += 1

    def look_at_prompts(self) -> None:
        bench = self.bench
        assert len(lanes(bench.unit, bench.shelf, bench.now)) == len(bench.unit.cycles)
        for prompt in due(bench.unit, bench.now):
            if prompt.kind in ("soak", "air", "run") and prompt.level is Level.READY:
                needed = bench.cycle(prompt.scope).timer
                assert needed is not None and needed.min_s is not None
                assert self.passed_s(prompt.cycle) >= needed.min_s, f"{prompt} came early"

    def passed_s(self, cycle: str) -> float:
        """True seconds since what runs was started, power cuts included: proven time can never be more."""
        return (self.bench.clock.true_ms - self.true[cycle]) / 1000

    def account(self, event: Event) -> None:
        data, cycle = event.data, event.refs.get("cycle", "")
        if event.kind == "start":
            self.true[cycle] = self.bench.clock.true_ms
        if event.kind == "undo":
            for used in self.holders.values():
                used[:] = [use for use in used if use[0] != data["undoes"]]
        if "uses" in data:
            self._used(event)
        if event.kind == "lift":
            self._lifted(event)
        if event.kind == "run-end" and data["result"] == "complete":
            assert self.passed_s(cycle) >= 1200
        after = self.bench.unit.cycles.get(event.subject)
        if after is not None and event.kind != "undo" and (data.get("marks") or {}).get("disinfected"):
            assert after.disinfected and (data.get("result") in ("full", "late", "complete"))
        if data.get("ends"):
            self.ends.append(data["ends"])

    def _used(self, event: Event) -> None:
        bath = self.bench.unit.bath(event.refs["bath"])
        assert bath is not None
        kind = "detergent" if bath.kind == "detergent" else "strip"
        used = self.holders.setdefault((kind, event.refs["bath"] if kind == "detergent" else event.refs["test"]), [])
        used.append((event.seq, event.refs["cycle"]))
        assert len({cycle for _, cycle in used}) == 1, f"two cycles share a {kind}: {used}"
        assert kind == "detergent" or len(used) == 1, f"one strip for two soaks: {used}"
        assert kind == "detergent" or bath.claim in CLAIMS[:2] or bath.claim == CLAIMS[3]

    def _lifted(self, event: Event) -> None:
        data, cycle = event.data, event.refs["cycle"]
        after = self.bench.unit.cycles[event.subject]
        if data["result"] in ("full", "late"):
            assert self.passed_s(cycle) >= data["contact_s"] >= data["required_s"]
        elif data["result"] == "early":
            assert data["reason"] and not after.running and after.step == data["step"]
        elif data["result"] == "unproven":
            assert after.hold is not None and after.hold.kind == "unproven lift" and not after.disinfected
        else:
            assert data["result"] == "too cold" and not after.running and not after.disinfected
