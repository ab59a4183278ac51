"""Seeded walks of a small unit through cycles, use, faults and repair, with an account of their own beside the engine.

The account is made from events alone and knows no rule of the engine but one: what may go to a patient.
"""

from __future__ import annotations

from random import Random
from typing import Any

from driver import LIBRARY, TODAY, Bench
from load_cases import GOOD

from protocols.clock import wall_text
from protocols.cycle import State
from protocols.errors import CommandFault
from protocols.event import Event
from protocols.model import Move
from protocols.refusals import Refusal
from protocols.shelf import Shelf
from protocols.whereabouts import Place, place_of

TAGS = ("X1", "X2")
PEOPLE = ("ann", "tim", "unconfirmed")
# Published limit of the set that the walk chooses, held here separately (BSG-2020, item 3).
HANG_S_MAX = 10_800


def small_shelf() -> Shelf:
    claims, limits = ((LIBRARY / f"{name}.toml").read_text("utf-8") for name in ("chemistries", "limits"))
    return Shelf({"good.toml": GOOD}, claims, limits_text=limits)


class UsageWalk:
    """One walk. `facts` holds per tag what its events said: open cycle, how the last one ended, what is against it."""

    def __init__(self, seed: int, shelf: Shelf) -> None:
        self.chance = Random(seed)
        self.bench = Bench(texts=shelf)
        self.bench.watched = False
        self.bench.must("choose-limits", "storage-uk-3h", seen=True)
        for tag in TAGS:
            self.bench.must("add-scope", tag, protocol="good")
        self.facts: dict[str, dict[str, Any]] = {
            tag: {"cycle": "", "ended": "", "last": "", "released": False, "used": "", "fault": "", "hold": False,
                  "dried": 0, "drying": 0}
            for tag in TAGS
        }  # fmt: skip
        self.issues = self.corrected = 0
        self.refused: set[str] = set()
        self.places: set[Place] = set()

    def walk(self, steps: int) -> None:
        for _ in range(steps):
            tag = self.chance.choice(TAGS)
            if self.chance.random() < 0.55 and tag in self.bench.unit.cycles:
                self.go_on(tag)
            else:
                self.anything(tag)
            if self.chance.random() < 0.06:
                self.bench.wait(self.chance.choice((60, 720, 3600, 10_000, 20_000)))
            if self.chance.random() < 0.02:
                self.bench.reboot(self.chance.choice((1, 600)))
            self.compare()

    def give(self, do: str, subject: str, by: str = "ann", **values: Any) -> None:
        try:
            answer = self.bench.give(do, subject, by, **values)
        except CommandFault:
            return
        if isinstance(answer, Refusal):
            self.refused.add(answer.key)
        else:
            self.account(answer)

    def go_on(self, tag: str) -> None:
        """Do what comes next in the cycle, some taps of it; now and then a leak, or damage found."""
        for _ in range(self.chance.randrange(1, 30)):
            bench = self.bench
            if tag not in bench.unit.cycles:
                return
            if bench.state(tag) is State.WAITING:
                decision = self.chance.choice(("continue", "disinfect-again", "clean-again"))
                self.give("decide", tag, decision=decision, reason="r", soak_s_max=3600)
                return
            bench.wait(1 + bench.left_s(tag))
            step = bench.step(tag)
            if step is not None and bench.state(tag) is State.OUT and step.bath == "disinfectant":
                self.give("strip-test", "H4", scope=tag, result="pass", strip_lot="STRIP-1")
            do, values = bench.ordinary(tag)
            if do == "look" and step is not None and self.chance.random() < 0.03:
                bad = [o.word for o in step.outcomes if o.move in (Move.LEAK, Move.OUT)]
                values = {"outcome": self.chance.choice(bad), "owner": "desk"} if bad else values
            self.give(do, tag, **values)

    def anything(self, tag: str) -> None:
        if self.facts[tag]["last"] == "completed" and self.chance.random() < 0.3:
            self.give("release", tag)
            self.give("issue-scope", tag, case="7")
            return
        if self.facts[tag]["last"] == "out of service" and self.chance.random() < 0.4:
            self.give("correct", tag, what="service", reason="r")
            return
        ended = wall_text(self.bench.clock.read().wall_ms - self.chance.choice((60, 600, 4000)) * 1000, "UTC")
        told = {"procedure_date": TODAY, "procedure_type": "x", "precleaned": "yes", "procedure_end": ended}
        case = self.chance.choice("789")
        passed = self.chance.choice(("pass", "pass", "fail"))
        do, values = self.chance.choice([
            ("receive", {"case": case, **told}), ("receive", {"again": "storage"}), ("release", {}), ("release", {}),
            ("issue-scope", {"case": case}), ("issue-scope", {"case": case}), ("issue-scope", {"case": case}),
            ("procedure-ended", {"procedure_end": ended}), ("procedure-ended", {"procedure_end": ended, "case": case}),
            ("report-fault", {"kind": self.chance.choice(("leak", "damage", "contamination")), "text": "t"}),
            ("decontaminate", {"how": "h"}), ("send-for-repair", {"to": "m"}), ("send-for-repair", {"to": "m"}),
            ("return-checked", {"leak_test": passed, "inspection": "pass", "culture": "C"}),
            ("return-checked", {"leak_test": passed, "inspection": "pass", "culture": "C"}),
            ("correct", {"what": self.chance.choice(("issue", "service", "leak")), "reason": "r"}),
            ("void", {"reason": "r"}), ("undo", {}), ("out-of-service", {"reason": "r", "owner": "o"}),
            ("decide", {"decision": self.chance.choice(("keep", "reprocess", "out-of-service")), "reason": "r"}),
        ])  # fmt: skip
        if do in ("void", "out-of-service", "report-fault") and self.chance.random() < 0.7:
            return
        if self.chance.random() < 0.05:
            self.give("strip-test", "H4", scope=tag, result="fail", strip_lot="STRIP-1")
            self.give("close-bath", "H4", reason="failed")
            if "H4" in self.bench.unit.baths and self.bench.unit.baths["H4"].closed:
                self.bench.pour("H4", "opa-055-20c")
            return
        self.give(do, tag, self.chance.choice(PEOPLE) if self.chance.random() < 0.1 else "ann", **values)

    def account(self, event: Event) -> None:
        """Take an event into the account; an issue must be one that the account allows."""
        data = event.data
        for one in data.get("holds", ()):
            if one["as"] == "stored":
                self.facts[one["scope"]]["hold"] = True
        if event.subject not in self.facts:
            return
        facts = self.facts[event.subject]
        if event.kind == "issue-scope":
            self.may_be_issued(event, facts)
        if event.kind == "receive":
            facts["cycle"] = event.id
        if event.kind == "check" and data["dry"]:
            facts["drying"] = self.bench.clock.true_ms
        if data.get("fault") and event.kind != "return-checked":
            facts["fault"] = "open"
        if data.get("ends"):
            self.ended(facts, data["ends"])
        elif event.kind == "void":
            facts.update(last="voided", released=False)
        self.between(event, facts)

    def ended(self, facts: dict[str, Any], how: str) -> None:
        cycle, facts["cycle"] = facts["cycle"], ""
        if how == "undone":
            return
        facts.update(last=how, ended=cycle, released=False)
        if how == "completed":
            facts.update(hold=False, used="", dried=facts["drying"])
            facts["fault"] = "" if facts["fault"] == "back" else facts["fault"]
        elif how == "out of service":
            facts["used"] = ""
        elif facts["used"]:
            facts["used"] = "over"

    def between(self, event: Event, facts: dict[str, Any]) -> None:
        data = event.data
        if event.kind == "release":
            facts["released"] = True
        elif event.kind == "issue-scope":
            facts["used"] = "out"
        elif event.kind == "procedure-ended":
            facts["used"] = "over"
        elif event.kind == "send-for-repair":
            facts["fault"] = "away"
        elif event.kind == "return-checked":
            facts["fault"] = "back" if data["passed"] else "open"
            facts.update(last="returned", released=False) if data["passed"] and facts["last"] else None
        elif event.kind == "correct" and data["what"] == "issue":
            facts["used"] = ""
        elif event.kind == "correct" and data["what"] == "service":
            facts.update(last="returned", fault="")
            self.corrected += 1
        elif event.kind == "decide" and "stored_outcome" in data:
            facts.update(hold=False, last=data["stored_outcome"] or facts["last"])

    def may_be_issued(self, event: Event, facts: dict[str, Any]) -> None:
        """The one rule: a finished cycle, released by somebody, and nothing against it."""
        self.issues += 1
        assert not facts["cycle"] and facts["last"] == "completed" and event.data["cycle"] == facts["ended"]
        assert facts["released"] and not facts["used"] and not facts["fault"] and not facts["hold"]
        assert (self.bench.clock.true_ms - facts["dried"]) / 1000 <= HANG_S_MAX
        assert event.by in ("ann", "tim")

    def compare(self) -> None:
        """Every scope is in one place, and it is the one that the account of its events gives."""
        for tag, facts in self.facts.items():
            fits = {
                Place.IN_CYCLE: bool(facts["cycle"]),
                Place.AWAY: facts["fault"] == "away",
                Place.OUT_OF_SERVICE: facts["last"] == "out of service" and facts["fault"] != "away",
                Place.HELD: facts["last"] != "out of service" and (facts["hold"] or facts["fault"] == "open"),
                Place.IN_USE: facts["used"] == "out",
                Place.WAITING: facts["used"] == "over" or facts["last"] != "completed",
                Place.STORED: True,
            }
            expected = next(place for place, is_there in fits.items() if is_there)
            assert place_of(self.bench.unit, tag) is expected, f"{tag}: {facts}"
            self.places.add(expected)
