"""One rehearsed shift: arrivals, what the technician turns to next, the prompts called meanwhile."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from data.door import Door
from data.rehearse.following import Follower
from data.rehearse.scene import LEAD, ZONE, Place, fresh_bath, must, opening
from data.rehearse.tally import Tally
from data.rehearse.technician import HLD_BATHS, Technician
from protocols.clock import FakeClock, local, wall_text
from protocols.cycle import State
from protocols.durations import Durations
from protocols.event import Command, Event
from protocols.lane import Lane, lanes
from protocols.prompts import Call, Level, calls_between

# No new scope is taken in so near the end of the shift: it would not be finished (common practice, no source).
LAST_RECEIPT_S = 5400


@dataclass
class Waiting:
    """A used scope on its way or at the door: when its procedure ended and when it comes, in ms of wall time."""

    place: Place
    ended_ms: int
    comes_ms: int


@dataclass
class Shift:
    """A shift of some hours. `show` is called with every prompt as it is called; `pace` with every stretch of time.

    With `follow` (how long hands are busy) the technician turns to what the plan says, else to what calls. When scopes
    come in and when the technician is called away is the same for the same seed either way.
    """

    door: Door
    clock: FakeClock
    scopes: list[Place]
    hours: float
    chance: Random
    show: Callable[[int, Call], None] = lambda wall_ms, call: None
    pace: Callable[[float], None] = lambda seconds: None
    tally: Tally = field(default_factory=Tally)
    follow: Durations | None = None

    def run(self) -> Tally:
        """Promise the tally of the whole shift; the record is in the door's journal."""
        for command in opening(self.door.unit, self.scopes):
            must(self.door.give(command))
        for number, label in enumerate(HLD_BATHS, 1):
            must(self.door.give(fresh_bath("disinfectant", label, number, self.clock.true_ms)))
        self.technician = Technician(self.door, self.chance, self.spend, self._told)
        self.follower = Follower(self.door, self.follow) if self.follow is not None else None
        # What the world does is drawn apart from what the technician does, so that two shifts can be held together.
        self.world, self.uses = self.chance.getrandbits(64), Counter[str]()
        start_ms = self.clock.true_ms
        self.end_ms = start_ms + round(self.hours * 3_600_000)
        self.coming = [self._use(p, start_ms + round(self.chance.uniform(0, 4500) * 1000)) for p in self.scopes]
        self.away_ms = [start_ms + round(self.chance.uniform(0.2, 0.9) * self.hours * 3_600_000) for _ in range(2)]
        while self.clock.true_ms < self.end_ms:
            self._turn()
        self.tally.close(self.door.unit)
        return self.tally

    def spend(self, seconds: float) -> None:
        """Let time pass; every prompt that falls into it is shown and counted."""
        before = self.door.now()
        self.clock.advance(round(seconds, 3))
        for call in calls_between(self.door.unit, before, self.door.now()):
            self.tally.called(call)
            self.show(before.wall_ms + round(call.after_s * 1000), call)
        self.pace(seconds)

    def _use(self, place: Place, ended_ms: int) -> Waiting:
        self.uses[place.tag] += 1
        world = Random(f"{self.world} {place.tag} {self.uses[place.tag]}")
        late = world.random() < 0.06
        transport_s = world.uniform(3400, 4200) if late else world.uniform(300, 1200)
        return Waiting(place, ended_ms, ended_ms + round(transport_s * 1000))

    def _turn(self) -> None:
        """One turn of the technician: a break, a scope that needs hands, a receipt, or a moment of waiting."""
        now_ms = self.clock.true_ms
        if self.away_ms and now_ms >= min(self.away_ms):
            self.away_ms.remove(min(self.away_ms))
            left = self.door.now()
            self.spend(self.chance.uniform(480, 1200))  # called away: limits may pass
            self.tally.away.append((left, self.door.now()))
            return
        here = [w for w in self.coming if w.comes_ms <= now_ms]
        if self.follower is not None:
            lane, quiet_s = self.follower.next()
            urgent = self.follower.presses()
        else:
            lane, quiet_s = self._wanted(), 60.0
            urgent = lane is not None and lane.level is not None and lane.level >= Level.READY
        if here and not urgent:
            self._receive(here[0])
        elif lane is not None:
            self.technician.act(lane)
        else:
            self.spend(min(quiet_s, self._quiet_s()) if quiet_s >= 1 else 1.0)

    def _wanted(self) -> Lane | None:
        """The scope to turn to: what is called first, else what is nearest to the end of its path."""
        ready, hands = [], []
        for lane in lanes(self.door.unit, self.door.shelf, self.door.now()):
            if lane.state in (State.IN, State.AIR_ON, State.RUN_ON):
                if lane.left_s <= 0:
                    ready.append(lane)
                elif lane.state is State.IN and self.chance.random() < 0.002:
                    return lane  # impatient: tries to lift early
            elif (lane.kind == "each" and lane.left_s > 0) or not self.technician.room_for(lane):
                continue
            else:
                hands.append(lane)
        if ready:
            return ready[0]
        pressing = [x for x in hands if x.level is not None and x.level >= Level.READY]
        if pressing:
            return pressing[0]
        return max(hands, key=lambda x: (x.position / x.length, x.scope)) if hands else None

    def _quiet_s(self) -> float:
        """How long nothing calls for hands, at most a minute at a time."""
        found = lanes(self.door.unit, self.door.shelf, self.door.now())
        waits = [lane.left_s for lane in found if lane.left_s > 0]
        waits += [(w.comes_ms - self.clock.true_ms) / 1000 for w in self.coming]
        return max(1.0, min([60.0, *waits]))

    def _receive(self, waiting: Waiting) -> None:
        self.coming.remove(waiting)
        ended = wall_text(waiting.ended_ms, ZONE)
        place, chance = waiting.place, self.chance
        values = {
            "case": f"26-{4000 + self.tally.received:04d}",
            "procedure_date": local(waiting.ended_ms, ZONE).date().isoformat(),
            "procedure_type": place.procedure,
            "location": f"room {1 + self.tally.received % 3}",
            "precleaned": "yes",
            "procedure_end": ended,
            "preclean_start": wall_text(waiting.ended_ms + 60_000, ZONE),
            "preclean_end": wall_text(waiting.ended_ms + 180_000, ZONE),
            "precleaned_by": "room nurse",
        }
        if chance.random() < 0.05:
            values = {k: v for k, v in values.items() if not k.startswith("preclean")} | {"precleaned": "unknown"}
        elif chance.random() < 0.05:
            del values["procedure_end"]
        self.spend(chance.uniform(20, 40))
        answer = self.technician.give("receive", place.tag, **values)
        if isinstance(answer, Event):
            self.tally.received += 1

    def _told(self, command: Command, answer: object) -> None:
        self.tally.told(command, answer, self.door.now())
        if isinstance(answer, Event) and answer.data.get("ends") in ("completed", "out of service", "voided"):
            self._after(answer)

    def _after(self, ended: Event) -> None:
        place = next(p for p in self.scopes if p.tag == ended.subject)
        if ended.data["ends"] == "completed" and self.chance.random() < 0.5:
            self.technician.give("release", place.tag, LEAD)
        gap_s = Random(f"{self.world} {place.tag} gap {self.uses[place.tag]}").uniform(900, 4500)
        next_ms = self.clock.true_ms + round(gap_s * 1000)
        if ended.data["ends"] != "out of service" and next_ms < self.end_ms - LAST_RECEIPT_S * 1000:
            self.coming.append(self._use(place, next_ms))
