"""Somebody on a simulated bench, who mostly does the next thing, often errs, and whose handheld has a hard life."""

from __future__ import annotations

from random import Random
from typing import Any

from data.rehearse.ordinary import given, ordinary
from data.rehearse.scene import LEAD, STRIPS, TECHNICIAN, ZONE, Place, fresh_bath, opening, places, strip_bottle
from protocols.bath import unusable
from protocols.clock import local, local_date, wall_text
from protocols.commands import SPECS, Value
from protocols.cycle import State
from protocols.event import Command, Event
from protocols.lane import Lane, lanes
from protocols.refusals import Refusal
from tests.world.purging import Weeks
from tests.world.world import World

HLD = "H1"
ODD_TEXTS = ("", "x", "H1", "B2", LEAD, "a" * 201, "tab\there", "early", "é", "2026-11-25")


class Actor:
    """Drives one world with its own seeded chance, and may break its disk, clocks and power where `faults`."""

    def __init__(self, world: World, scopes: int, faults: bool = True) -> None:
        self.world = world
        self.chance: Random = world.chance
        self.faults = faults
        self.places: list[Place] = places(scopes)
        for command in opening(world.door.unit, self.places):
            world.give(command)
        self.case = 0
        self.weeks = Weeks(world) if faults else None
        self.strips = STRIPS

    def act(self) -> None:
        """One step of somebody's day."""
        roll = self.chance.random()
        if self.weeks is not None and roll < 0.004:
            self._weeks_pass(self.weeks)
        elif self.faults and roll < 0.06:
            self._befall()
        elif roll < 0.12:
            self._fuzz()
        elif roll < 0.16:
            self._lead_or_bath()
        elif roll < 0.22:
            self.world.wait(self.chance.choice((0.001, 0.4, 3, 61, 700)) * self.chance.random())
        else:
            self._work()
        if self.chance.random() < 0.05:
            self.world.disk.mend()
            self.world.touch()

    def _lanes(self) -> list[Lane]:
        world = self.world
        return lanes(world.door.unit, world.shelf, world.door.now())

    def _work(self) -> None:
        """Take a scope in, or do the next thing for one; now and then a moment before its time."""
        found = self._lanes()
        free = [p for p in self.places if p.tag not in self.world.door.unit.cycles]
        if free and (not found or self.chance.random() < 0.1):
            self._receive(self.chance.choice(free))
            return
        if not found:
            self.world.wait(60)
            return
        lane = self.chance.choice(found)
        if lane.state is State.WAITING:
            self._decide(lane)
            return
        if self.faults and lane.state is State.IN and self.chance.random() < 0.06:
            self._power_cut()
            return
        if lane.left_s > 0 and self.chance.random() < 0.85:
            # Often to the very millisecond, where an off-by-one would show.
            off = self.chance.choice((0, 0, -0.001, 0.001, self.chance.uniform(-5, 30), self.chance.uniform(0, 4000)))
            self.world.wait(max(0.0, round(lane.left_s + off, 3)))
        else:
            self.world.wait(round(self.chance.uniform(0.3, 25), 3))
        now = next((x for x in self._lanes() if x.scope == lane.scope), None)
        if now is not None:
            self._next(now)

    def _next(self, lane: Lane) -> None:
        bath = ""
        if lane.step.bath in ("detergent", "disinfectant") and lane.state in (State.LOOK, State.OUT):
            bath = self._bath(lane)
        command = ordinary(lane, TECHNICIAN, bath, round(self.chance.uniform(20, 24), 1))
        if command is None:
            return
        values = dict(command.values)
        if command.do == "look" and self.chance.random() < 0.12:
            values["outcome"] = self.chance.choice(lane.step.outcomes).word
        elif command.do == "pass" and self.chance.random() < 0.3:
            values["debris"] = "seen"
        elif command.do == "check" and self.chance.random() < 0.2:
            values["dry"] = False
        elif command.do == "lift" and self.chance.random() < 0.15:
            values.update(self.chance.choice(({"temp_c": 12}, {"reason": "needed at once"})))
        elif command.do == "run-end" and self.chance.random() < 0.2:
            values["result"] = "failed"
        if lane.state is State.OUT and lane.step.bath == "disinfectant":
            values.update(given(lane.step))
        self._give(command.do, lane.scope, command.by, **values)
        if self.chance.random() < 0.04:
            self._give("undo", lane.scope)

    def _bath(self, lane: Lane) -> str:
        """Promise the label of a bath, poured where needed; a strip for this scope where it takes one."""
        unit, now = self.world.door.unit, self.world.door.now()
        disinfects = lane.step.bath == "disinfectant"
        label = HLD if disinfects else f"basin {lane.scope}"
        present = unit.baths.get(label)
        spent = present is not None and (
            unusable(present, unit, now) or (not disinfects and present.cycle not in ("", lane.cycle.id))
        )
        if present is not None and not present.closed and spent:
            self._give("close-bath", label, reason="no longer usable")
        if present is None or present.closed or spent:
            kind = "disinfectant" if disinfects else "detergent"
            self.world.give(fresh_bath(kind, label, unit.seq, now.wall_ms))
        if disinfects and self.chance.random() < 0.95:
            result = "fail" if self.chance.random() < 0.04 else "pass"
            answer = self._give("strip-test", label, scope=lane.scope, result=result, strip_lot=self.strips)
            if isinstance(answer, Refusal) and answer.key.startswith(("strips-", "unknown-strips")):
                # A bottle past its life, as after a gap of unknown length: the next one is opened.
                self.strips = f"STRIP-{unit.seq}"
                for command in strip_bottle(self.strips, local_date(now.wall_ms, ZONE)):
                    self.world.give(command)
                self._give("strip-test", label, scope=lane.scope, result=result, strip_lot=self.strips)
        return label

    def _receive(self, place: Place) -> None:
        now_ms = self.world.door.now().wall_ms
        ended = now_ms - self.chance.choice((300_000, 900_000, 3_500_000, 4_000_000))
        self.case += 1
        values: dict[str, Any] = {
            "case": f"26-{self.case:04d}", "procedure_date": local(ended, ZONE).date().isoformat(),
            "procedure_type": place.procedure, "procedure_end": wall_text(ended, ZONE), "precleaned": "yes",
            "preclean_start": wall_text(ended + 60_000, ZONE), "preclean_end": wall_text(ended + 180_000, ZONE),
        }  # fmt: skip
        if self.chance.random() < 0.1:
            del values["procedure_end"]
        scope = self.world.door.unit.scopes.get(place.tag)
        if scope is not None and scope.last is not None and scope.last.outcome == "out of service":
            self._give("return-checked", place.tag, LEAD, leak_test="pass", inspection="pass")
        elif scope is not None and scope.last is not None and self.chance.random() < 0.5:
            self._give("release", place.tag, LEAD)
        self._give("receive", place.tag, **values)

    def _decide(self, lane: Lane) -> None:
        decision = self.chance.choice(("continue", "continue", "clean-again", "disinfect-again", "out-of-service"))
        more = {"soak_s_max": 14_400} if self.chance.random() < 0.7 else {}
        self.world.wait(round(self.chance.uniform(1, 200), 3))
        self._give("decide", lane.scope, LEAD, decision=decision, reason="by the IFU", **more)

    def _lead_or_bath(self) -> None:
        """What happens beside the path: a bath is discarded, a cycle voided, a soak interrupted, a note taken."""
        tags = list(self.world.door.unit.cycles) or [self.places[0].tag]
        tag = self.chance.choice(tags)
        do, values = self.chance.choice((
            ("close-bath", {"reason": "spilt"}), ("void", {"reason": "wrong scope"}),
            ("interrupt", {"reason": "level fell"}), ("note", {"what": "other", "text": "seen"}),
            ("out-of-service", {"reason": "cut", "owner": LEAD}), ("skip", {"reason": "not due"}),
            ("correct", {"what": self.chance.choice(("leak", "strip", "service")), "reason": "read again"}),
            ("choose", {"by": self.chance.choice(("soak", "machine"))}), ("undo", {}),
        ))  # fmt: skip
        subject = HLD if do == "close-bath" or values.get("what") == "strip" else tag
        self.world.give(Command(do, subject, values, LEAD))

    def _fuzz(self) -> None:
        """A command with any values, most of which no step asks for."""
        do = self.chance.choice(list(SPECS))
        spec = SPECS[do]
        values = {n: self._any(v) for n, v in spec.values.items() if v.required or self.chance.random() < 0.3}
        subject = self.chance.choice((*(p.tag for p in self.places), HLD, "unit", "nobody", ""))
        after = self.chance.choice((None, None, 1, self.world.door.unit.seq))
        self.world.give(Command(do, subject, values, self.chance.choice((LEAD, TECHNICIAN, "stranger")), after))

    def _any(self, value: Value) -> Any:
        if self.chance.random() < 0.1:
            return self.chance.choice((None, -1, 10**400, [], "?", True))
        match value.type:
            case "choice":
                return self.chance.choice(value.choices)
            case "number":
                return self.chance.choice((value.low or 0, value.high or 1, 21.5, 0.1 + 0.2))
            case "bool":
                return self.chance.random() < 0.8
            case "date":
                return self.chance.choice(("2026-11-24", "2027-11-24", "2026-02-30"))
            case "time":
                return self.chance.choice((wall_text(self.world.door.now().wall_ms - 60_000, ZONE), "10:42"))
            case "zone":
                return ZONE
        return self.chance.choice(ODD_TEXTS)

    def _befall(self) -> None:
        """Something that happens to a handheld."""
        world, chance = self.world, self.chance
        roll = chance.random()
        if roll < 0.2:
            world.app_ends()
        elif roll < 0.4:
            self._power_cut()
        elif roll < 0.6:
            world.step_wall(chance.choice((-7200, -60, 60, 3600, chance.uniform(-90_000, 90_000))))
        elif roll < 0.7:
            world.disk.fill()
        else:
            how = chance.choice(("clean", "short", "whole", "power"))
            world.disk.fail(world.disk.operations + chance.randrange(1, 9), chance.random() < 0.3, how)

    def _weeks_pass(self, weeks: Weeks) -> None:
        """The wall clock goes on by weeks, what is old is cleared up or not, then it is sent and purged."""
        world, chance = self.world, self.chance
        world.give(Command("set-unit", "unit", {"keep_weeks": 1}, LEAD))
        if chance.random() < 0.8:
            for tag in [*world.door.unit.cycles]:
                world.give(Command("void", tag, {"reason": "left over"}, LEAD))
            for tag, scope in world.door.unit.scopes.items():
                if scope.hold is not None:
                    world.give(Command("decide", tag, {"decision": "keep", "reason": "by the IFU"}, LEAD))
                elif scope.last is not None and scope.last.outcome == "completed":
                    world.give(Command("void", tag, {"reason": "hung too long"}, LEAD))
            world.give(Command("close-bath", HLD, {"reason": "old"}, LEAD))
        world.step_wall(15 * 86_400)
        world.give(Command("set-unit", "unit", {"soon_s": chance.randrange(30, 90)}, LEAD))
        if chance.random() < 0.6:
            world.disk.fail(world.disk.operations + chance.randrange(1, 200), chance.random() < 0.3,
                            chance.choice(("clean", "short", "whole", "power")))  # fmt: skip
        weeks.send_and_purge(chance.choice((LEAD, LEAD, LEAD, TECHNICIAN)))
        world.disk.mend()

    def _power_cut(self) -> None:
        """The handheld is off for a while; whoever comes back tries to go on with what was running."""
        chance = self.chance
        self.world.power_cut(chance.choice((0.0, chance.uniform(1, 60), chance.uniform(60, 1500))))
        running = [lane for lane in self._lanes() if lane.cycle.running]
        if running and chance.random() < 0.6:
            self._next(chance.choice(running))

    def _give(self, do: str, subject: str, by: str = TECHNICIAN, **values: Any) -> Event | Refusal | None:
        return self.world.give(Command(do, subject, values, by))
