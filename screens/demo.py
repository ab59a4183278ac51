"""An invented bench under way: scopes of a made-up unit, each brought to a telling point of its cycle, as of now.

Every state comes from commands given to the door in their order of time on a clock that is set back, so it is a record
like any other. No person, hospital or maker in it is real.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from data.door import Door
from data.memory_disk import MemoryDisk
from data.opening import open_door
from data.rehearse.ordinary import ordinary
from data.rehearse.scene import TECHNICIAN, ZONE, Place, fresh_bath, must, opening
from protocols.clock import Clock, FakeClock, Reading, local_date, wall_text
from protocols.cycle import State
from protocols.errors import Defect
from protocols.event import Command
from protocols.lane import Lane, lanes
from protocols.shelf import Shelf

# Seconds between two taps of the invented technician, in the order of a manual cleaning (common practice, no source).
TAP_S = 15.0
# How long before the first scope comes in the unit is set up.
SET_UP_S = 600
HLD = ("H1", "H2")


@dataclass(frozen=True)
class Point:
    """Where one scope stands: at which step and state, reached how many seconds ago."""

    place: Place
    step: str
    state: State
    ago_s: float


def _point(tag: str, protocol: str, procedure: str, step: str, state: State, ago_s: float) -> Point:
    return Point(Place(tag, protocol, procedure), step, state, ago_s)


# One over its limit, one ready, five soaking, drying or in a machine, one in hand; the spare ones are not yet received.
BENCH: tuple[Point, ...] = (
    _point("G3", "gastroscope", "gastroscopy", "final-rinse", State.RINSE, 665),
    _point("B2", "bronchoscope-1", "bronchoscopy", "detergent-soak", State.IN, 72),
    _point("G7", "gastroscope", "gastroscopy", "disinfectant-soak", State.IN, 504),
    _point("C1", "colonoscope-aux", "colonoscopy", "disinfectant-soak", State.IN, 444),
    _point("B4", "bronchoscope-1", "bronchoscopy", "drying-air", State.AIR_ON, 240),
    _point("D6", "duodenoscope", "ERCP", "machine-run", State.RUN_ON, 900),
    _point("G9", "gastroscope", "gastroscopy", "flush-suction-biopsy-channel", State.COUNT, 20),
)
SPARE: tuple[Place, ...] = (
    Place("B5", "bronchoscope-1", "bronchoscopy"),
    Place("L1", "laryngoscope", "laryngoscopy"),
    Place("U1", "ultrasound-endoscope", "endoscopic ultrasound"),
)


class SetBackClock:
    """The clock promise for a demonstration: it begins in the past and is `advance`d to the present by `arrive`.

    From then on it runs with the clock of the handheld.
    """

    def __init__(self, real: Clock, back_s: float) -> None:
        self._real = real
        start = real.read()
        self._left_ms = round(back_s * 1000)
        self._from_ms, self._boot = start.elapsed_ms, f"demo-{start.boot}"
        self._passed_ms = 0

    def advance(self, seconds: float) -> None:
        """Let set-up time pass. Raises Defect when that would lead beyond the present."""
        self._passed_ms += round(seconds * 1000)
        if self._passed_ms > self._left_ms:
            raise Defect("the demonstration was set up beyond the present")

    def arrive(self) -> None:
        """Be in the present."""
        self._passed_ms = self._left_ms

    def read(self) -> Reading:
        """Promise both clocks of this moment of the demonstration."""
        real = self._real.read()
        behind_ms = self._left_ms - self._passed_ms
        return Reading(real.elapsed_ms - self._from_ms + self._passed_ms, real.wall_ms - behind_ms, self._boot)


def length_s(shelf: Shelf, points: Sequence[Point], start_wall_ms: int) -> tuple[dict[str, float], float]:
    """Promise how long each scope takes to its point, and how far back the whole bench begins, in seconds."""
    taken: dict[str, float] = {}
    for point in points:
        clock = FakeClock(start_wall_ms)
        door = open_door(MemoryDisk(), clock, shelf, device="trial")
        _set_up(door, [point.place], clock.advance)
        spent = 0.0
        for wait_s, command in _walk(door, point, clock):
            clock.advance(wait_s)
            spent += wait_s
            must(door.give(command()))
        taken[point.place.tag] = spent
    back = max((taken[p.place.tag] + p.ago_s for p in points), default=0.0)
    return taken, back + SET_UP_S


def set_bench(
    door: Door, advance: Callable[[float], None], points: Sequence[Point], spare: Sequence[Place],
    plan: dict[str, float], back_s: float, clock: Clock,
) -> None:  # fmt: skip
    """Bring an empty unit to this bench. `advance` moves the door's clock; `plan` and `back_s` as `length_s` gave."""
    _set_up(door, [*(p.place for p in points), *spare], advance)
    at_s = float(SET_UP_S)
    walks = {p.place.tag: _walk(door, p, clock) for p in points}
    queue: list[tuple[float, str, Callable[[], Command]]] = []
    for point in points:
        tag = point.place.tag
        wait_s, command = next(walks[tag])
        heapq.heappush(queue, (back_s - point.ago_s - plan[tag] + wait_s, tag, command))
    while queue:
        due_s, tag, command = heapq.heappop(queue)
        advance(max(0.0, due_s - at_s))
        at_s = max(at_s, due_s)
        must(door.give(command()))
        following = next(walks[tag], None)
        if following is not None:
            heapq.heappush(queue, (due_s + following[0], tag, following[1]))


def _set_up(door: Door, places: Sequence[Place], advance: Callable[[float], None]) -> None:
    for command in opening(door.unit, list(places), local_date(door.now().wall_ms, ZONE)):
        must(door.give(command))
    for number, label in enumerate(HLD, 1):
        must(door.give(fresh_bath("disinfectant", label, number, door.now().wall_ms)))
    advance(SET_UP_S)


def _walk(door: Door, point: Point, clock: Clock) -> Iterator[tuple[float, Callable[[], Command]]]:
    """Each command with the wait before it; the command is made when its time has come."""
    tag = point.place.tag
    yield 0.0, lambda: _receipt(point.place, clock.read().wall_ms)
    while True:
        lane = next(x for x in lanes(door.unit, door.shelf, door.now()) if x.scope == tag)
        if (lane.step.id, lane.state) == (point.step, point.state):
            return
        bath = ""
        if lane.state in (State.LOOK, State.OUT) and lane.step.bath in ("detergent", "disinfectant"):
            bath = _bath(tag, lane)
            if lane.step.bath == "detergent" and bath not in door.unit.baths:
                yield TAP_S, lambda bath=bath: fresh_bath("detergent", bath, 7, clock.read().wall_ms)
            if lane.step.bath == "disinfectant":
                values = {"scope": tag, "result": "pass", "strip_lot": "STRIP-07"}
                yield TAP_S, lambda bath=bath, values=values: Command("strip-test", bath, values, TECHNICIAN)
        given = ordinary(lane, TECHNICIAN, bath)
        if given is None:
            raise Defect(f"{tag} waits for a lead on the way to {point.step}")
        yield max(TAP_S, lane.left_s), lambda given=given: given


def _bath(tag: str, lane: Lane) -> str:
    return f"W-{tag}" if lane.step.bath == "detergent" else HLD[sum(map(ord, tag)) % len(HLD)]


def _receipt(place: Place, wall_ms: int) -> Command:
    ended_ms = wall_ms - 600_000
    values = {
        "case": f"26-{4000 + sum(map(ord, place.tag)):04d}",
        "procedure_date": local_date(ended_ms, ZONE).isoformat(),
        "procedure_type": place.procedure,
        "procedure_end": wall_text(ended_ms, ZONE),
        "precleaned": "yes",
        "precleaned_by": "room nurse",
    }
    return Command("receive", place.tag, values, TECHNICIAN)
