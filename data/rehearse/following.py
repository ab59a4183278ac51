"""Following the plan in a rehearsal: which scope the technician turns to next, by `protocols.hands`."""

from __future__ import annotations

from data.door import Door
from protocols.clock import longest_s
from protocols.durations import Durations
from protocols.hands import HandsPlan, Slot, plan_hands
from protocols.lane import Lane, lanes

# Fewer than in the app, so that a shift is rehearsed in seconds; the app plans after every command.
NODES = 800
# The plan is made anew when so old, and before that whenever the piece of work in hand has ended.
AGE_S = 120
# A slot that starts this soon is started now.
SOON_S = 5
# Nobody is called away to the phone for a lead while a limit is this near: own figure, a talk takes 1 to 4 min.
LEAD_S = 240


class Follower:
    """Keeps the plan of one shift. `durations` are guesses or the unit's own times."""

    def __init__(self, door: Door, durations: Durations) -> None:
        self._door = door
        self._durations = durations
        self._plan: HandsPlan | None = None
        self._slot: Slot | None = None

    def next(self) -> tuple[Lane | None, float]:
        """Promise the scope to turn to now, None to wait, and for how long at most nothing calls for hands (s)."""
        now = self._door.now()
        open_lanes = {lane.scope: lane for lane in lanes(self._door.unit, self._door.shelf, now)}
        if not open_lanes:
            self._plan = None
            return None, 60.0
        if self._plan is not None and longest_s(self._plan.at, now) < AGE_S and self._slot is not None:
            lane = open_lanes.get(self._slot.scope)
            if lane is not None and lane.left_s <= 0 and self._in_hand(lane):
                return lane, 0.0
        plan = self._plan = plan_hands(
            self._door.unit, self._door.shelf, now, self._durations, NODES, before=self._plan
        )
        self._slot = plan.slots[0] if plan.slots else None
        waiting = next((open_lanes[tag] for tag in plan.left_out), None)
        limits = [slot.latest_s for slot in plan.slots if slot.latest_s is not None]
        if waiting is not None and (self._slot is None or min(limits, default=LEAD_S) >= LEAD_S):
            self._slot = None
            return waiting, 0.0
        if self._slot is None or self._slot.start_s > SOON_S:
            starts, self._slot = [slot.start_s for slot in plan.slots], None
            return None, float(min([60, *starts]))
        lane = open_lanes[self._slot.scope]
        if lane.left_s > 0:  # gloves are changed while the soak ends
            self._slot = None
            return None, lane.left_s
        return lane, 0.0

    def presses(self) -> bool:
        """Promise whether a limit is so near that nothing else may come between."""
        return self._slot is not None and self._slot.latest_s is not None and self._slot.latest_s < 60

    def _in_hand(self, lane: Lane) -> bool:
        """Whether the scope is still within the piece of work that was begun."""
        if self._plan is None or self._slot is None:
            return False
        slot = self._slot
        chain = next(c for c in self._plan.chains if c.scope == slot.scope)
        return any(p.step.id == lane.step.id for p in chain.pieces[slot.number].parts) and not lane.cycle.running
