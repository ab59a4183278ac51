"""The simulated technician: one pair of hands that sometimes errs, and a lead who comes when called.

Every choice comes from one seeded generator, so a seed gives the same shift. Mistakes are tried at the door first, as
people do; what the door refuses is counted, then done right.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

from data.door import Door
from data.rehearse.ordinary import RECORDED, given, good_word, ordinary
from data.rehearse.scene import LEAD, STRIPS, TECHNICIAN, fresh_bath, must
from protocols.bath import unusable
from protocols.cycle import State
from protocols.event import Command, Event
from protocols.lane import Lane
from protocols.model import Move
from protocols.refusals import Refusal

# How long one action keeps the hands busy, in seconds: invented, in the order of the published 17 min of manual
# cleaning per scope (TIME-2017 in the trade's literature; read at second hand).
HANDS_S = {
    State.LOOK: (15, 45), State.PASS: (20, 45), State.COUNT: (12, 25), State.RINSE: (5, 10), State.READING: (30, 60),
    State.OUT: (10, 25), State.IN: (8, 15), State.AIR_OFF: (10, 20), State.AIR_ON: (10, 20), State.RUN_OFF: (30, 60),
    State.RUN_ON: (15, 30),
}  # fmt: skip
HLD_BATHS = ("H1", "H2")


class Technician:
    """Acts on one scope at a time through the door. `spend` lets time pass; `tell` is told every answer."""

    def __init__(
        self, door: Door, chance: Random, spend: Callable[[float], None], tell: Callable[[Command, object], None]
    ) -> None:
        self.door = door
        self.chance = chance
        self.spend = spend
        self.tell = tell
        self.lot = 1000
        self.clean = False

    def give(self, do: str, subject: str, by: str = TECHNICIAN, **values: Any) -> Event | Refusal:
        return self._give(Command(do, subject, values, by))

    def _give(self, command: Command) -> Event | Refusal:
        answer = self.door.give(command)
        self.tell(command, answer)
        return answer

    def often(self, share: float) -> bool:
        return self.chance.random() < share

    def act(self, lane: Lane) -> None:
        """Do the next thing for one scope, with the time it takes and perhaps a mistake on the way."""
        clean = lane.cycle.disinfected or (lane.step.disinfects and lane.state in (State.IN, State.RUN_ON))
        if clean and not self.clean:
            self.spend(self.door.unit.settings.change_s)  # gloves, apron, hand hygiene
        self.clean = clean
        low, high = HANDS_S.get(lane.state, (5, 10))
        before = lane.state in (State.LOOK, State.PASS, State.COUNT, State.READING, State.AIR_ON)
        if before:
            self.spend(self.chance.uniform(low, high))
        self._err_first(lane)
        match lane.state:
            case State.WAITING:
                self._call_lead(lane)
            case State.LOOK:
                self._look(lane)
            case State.PASS:
                self._pass(lane)
            case State.OUT:
                self._start(lane)
            case State.READING:
                self._read(lane)
            case State.AIR_ON:
                self.give("check", lane.scope, dry=not self.often(0.15))
            case State.IN:
                self.give("lift", lane.scope, temp_c=round(self.chance.uniform(20.5, 23), 1))
            case _:
                self._plain(lane)
        if not before:
            self.spend(self.chance.uniform(low, high))

    def _plain(self, lane: Lane) -> None:
        command = ordinary(lane, TECHNICIAN)
        if command is None:
            return
        answer = self._give(command)
        if isinstance(answer, Event) and command.do == "count" and self.often(0.04):
            self._give(command)  # a bounce of a wet screen: refused as one tap

    def _err_first(self, lane: Lane) -> None:
        if self.often(0.015):
            self.give("count" if lane.state is State.LOOK else "look", lane.scope, **_wrong(lane))
        if self.often(0.01):
            self.give("look", "X" + lane.scope, outcome="tight")

    def _look(self, lane: Lane) -> None:
        step = lane.step
        values = given(step)
        if step.bath:
            values.update(bath=self._detergent(lane), temp_c=round(self.chance.uniform(28, 34), 1))
        if any(o.move is Move.LEAK for o in step.outcomes) and self.often(0.02):
            self.give("look", lane.scope, outcome=next(o.word for o in step.outcomes if o.move is Move.LEAK))
            return
        bad = [o for o in step.outcomes if o.move in (Move.AGAIN, Move.BACK)]
        if bad and self.often(0.05):
            self.give("look", lane.scope, outcome=bad[0].word, **values)
            return
        answer = self.give("look", lane.scope, outcome=good_word(step), **values)
        if isinstance(answer, Event) and answer.data.get("undo") and self.often(0.02):
            self.spend(3)
            self.give("undo", lane.scope)
            self.spend(4)
            self.give("look", lane.scope, outcome=good_word(step), **values)

    def _detergent(self, lane: Lane) -> str:
        """Fresh solution for every scope, in the basin named after it."""
        label = f"basin {lane.scope}"
        present = self.door.unit.baths.get(label)
        if present is not None and not present.closed:
            if present.cycle in ("", lane.cycle.id):
                return label
            self.give("close-bath", label, reason="served its scope")
        self.lot += 1
        must(self._give(fresh_bath("detergent", label, self.lot, self.door.now().wall_ms)))
        return label

    def _pass(self, lane: Lane) -> None:
        values = given(lane.step)
        if self.often(0.35 / (1 + lane.cycle.passes)):
            self.give("pass", lane.scope, debris="seen")
            return
        self.give("pass", lane.scope, debris="none", **values)

    def _start(self, lane: Lane) -> None:
        values = given(lane.step)
        if lane.step.bath == "detergent":
            temp = round(self.chance.uniform(28, 34), 1)
            self.give("start", lane.scope, bath=self._detergent(lane), temp_c=temp, **values)
            return
        bath = self._disinfectant()
        temp = round(self.chance.uniform(20.2, 23), 1)
        if self.often(0.06):
            self.give("start", lane.scope, bath=bath, temp_c=temp, **values)  # no strip dipped: refused
        tested = self._strip(lane, bath)
        if tested != bath:
            bath = tested
        if self.often(0.05):
            self.give("start", lane.scope, bath=bath, temp_c=18.5, **values)  # too cold: refused
            self.spend(60)
        if self.often(0.03):
            self.give("start", lane.scope, bath=bath, temp_c=temp, **{**values, "under": False})
        self.give("start", lane.scope, bath=bath, temp_c=temp, **values)
        if self.often(0.02):
            self.spend(self.chance.uniform(30, 90))
            self.give("interrupt", lane.scope, reason="drain opened, level fell")

    def _strip(self, lane: Lane, bath: str) -> str:
        """Dip a strip; where it fails, discard the bath, pour another and dip again."""
        self.spend(self.chance.uniform(20, 40))
        if not self.often(0.03):
            self.give("strip-test", bath, scope=lane.scope, result="pass", strip_lot=STRIPS)
            return bath
        self.give("strip-test", bath, scope=lane.scope, result="fail", strip_lot=STRIPS)
        self.give("start", lane.scope, bath=bath, temp_c=21, **given(lane.step))  # tried all the same: refused
        self.give("close-bath", bath, reason="failed its strip test")
        self.spend(180)
        fresh = self._disinfectant()
        self.spend(30)
        self.give("strip-test", fresh, scope=lane.scope, result="pass", strip_lot=STRIPS)
        return fresh

    def _disinfectant(self) -> str:
        """The bath with fewer scopes in it; poured when missing or no longer usable."""
        now = self.door.now()
        for label in HLD_BATHS:
            bath = self.door.unit.baths.get(label)
            if bath is not None and not bath.closed and unusable(bath, self.door.unit, now):
                self.give("close-bath", label, reason="no longer usable")
                bath = self.door.unit.baths[label]
            if bath is None or bath.closed:
                self.lot += 1
                must(self._give(fresh_bath("disinfectant", label, self.lot, now.wall_ms)))
        lying = [c.soak.label for c in self.door.unit.cycles.values() if c.soak]
        return min(HLD_BATHS, key=lambda label: (lying.count(label), label))

    def room_for(self, lane: Lane) -> bool:
        """Promise whether there is room in a disinfectant bath for a scope that is to go into one."""
        if lane.state is not State.OUT or lane.step.bath != "disinfectant":
            return True
        lying = sum(1 for c in self.door.unit.cycles.values() if c.soak and c.soak.label in HLD_BATHS)
        return lying < len(HLD_BATHS) * self.door.unit.settings.bath_holds

    def _read(self, lane: Lane) -> None:
        limit = lane.step.limits[0] if lane.step.limits else None
        if limit is None or self.often(0.3):
            self._plain(lane)
            return
        action = limit.action_from or limit.pass_below or limit.pass_to
        share = 1.2 if self.often(0.04) else self.chance.uniform(0.05, 0.8)
        value = round((action.value if action else 1) * share, 1)
        self.give("read", lane.scope, method=limit.method, meter=limit.meter, value=value)

    def _call_lead(self, lane: Lane) -> None:
        hold = lane.cycle.hold
        self.spend(self.chance.uniform(60, 240))
        again = hold is not None and (hold.kind == "unproven lift" or self.often(0.5))
        if hold is not None and hold.kind == "no maximum":
            self.give("decide", lane.scope, LEAD, decision="continue", reason="by the IFU", soak_s_max=14_400)
        elif again:
            self.give("decide", lane.scope, LEAD, decision="disinfect-again", reason="IFU: repeat the soak")
        else:
            self.give("decide", lane.scope, LEAD, decision="continue", reason="IFU: rinse well and go on")


def _wrong(lane: Lane) -> dict[str, Any]:
    return {} if lane.state is State.LOOK else {"outcome": "clean", "temp_c": RECORDED["temp_c"]}
