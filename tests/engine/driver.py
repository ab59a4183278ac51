"""The engine without a disk: commands in, events folded, on a clock that moves only when told.

Every event goes through JSON before it is folded, as it does on its way through the record.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import protocols
from protocols.clock import FakeClock, Stamp, local_date, longest_gap_ms, parse_wall, wall_text
from protocols.cycle import State, state_of
from protocols.decide import decide
from protocols.event import SCHEMA, Command, Decision, Event
from protocols.fold import evolve
from protocols.model import Move, Step
from protocols.plain import to_plain
from protocols.refusals import Refusal
from protocols.shelf import Shelf
from protocols.unit import Bath, Cycle, Unit

LIBRARY = Path(protocols.__file__).parent / "library"
# Tags with the protocol of each; the letters follow the family.
SCOPES = {
    "B2": "bronchoscope-1", "B3": "bronchoscope-1", "G4": "gastroscope", "C5": "colonoscope-aux",
    "D6": "duodenoscope", "U7": "ultrasound-endoscope", "L8": "laryngoscope",
}  # fmt: skip
START = "2026-11-25T08:00:00+00:00"
TODAY = "2026-11-25"
RECORDED: dict[str, Any] = {"water": "sterile", "alcohol_pct": 70, "place": "cabinet 1", "temp_c": 30, "owner": "ann"}


@lru_cache(maxsize=1)
def shelf() -> Shelf:
    """Promise the shipped texts, read once."""
    texts = {p.name: p.read_text("utf-8") for p in LIBRARY.glob("*.toml")}
    claims, limits, _ = texts.pop("chemistries.toml"), texts.pop("limits.toml"), texts.pop("durations.toml")
    return Shelf(texts, claims, limits_text=limits)


class Bench:
    """A unit with people ann (lead) and tim (technician), every shipped protocol, seven scopes and bath H4 (OPA).

    `give` lets no time pass; the walking methods let `tap_s` pass before each tap. Whatever is refused is checked to
    have changed nothing.
    """

    def __init__(self, start: str = START, zone: str = "UTC", texts: Shelf | None = None, ready: bool = True) -> None:
        self.shelf = texts or shelf()
        self.clock = FakeClock(parse_wall(start))
        self.unit = Unit()
        self.events: list[Event] = []
        self.tap_s = 1.0
        self.watched = True
        self._seen = self.clock.read()
        self._poured = 0
        self._append(Decision("boot", "device", {}, {"seen_elapsed_ms": 0, "gap_longest_ms": 0}), "device")
        if not ready:
            return
        self.must("set-unit", "unit", name="Bench", zone=zone)
        self.must("add-person", "ann", name="Ann", role="lead")
        self.must("add-person", "tim", name="Tim", role="technician")
        for name in self.shelf.shipped:
            self.must("adopt-protocol", name)
        for tag, name in SCOPES.items():
            if name in self.unit.protocols:
                self.must("add-scope", tag, protocol=name, model="demo", serial=f"S-{tag}")
        self.pour("H4", "opa-055-20c")
        for label in ("STRIP-1", "S"):
            self.bottle(label)

    def read(self) -> Stamp:
        self._seen = self.clock.read()
        return self.unit.time.stamp(self._seen)

    @property
    def now(self) -> Stamp:
        return self.read()

    def give(self, do: str, subject: str, by: str = "ann", after: int | None = None, **values: Any) -> Event | Refusal:
        """Promise the event or refusal. The value `by` of choose is given as `way`."""
        if do == "choose":
            values["by"] = values.pop("way")
        before = self._seen_state()
        answer = decide(self.unit, Command(do, subject, values, by, after), self.now, self.shelf)
        assert self._seen_state() == before, f"{do} changed the unit in place"
        return answer if isinstance(answer, Refusal) else self._append(answer, by)

    def _seen_state(self) -> str:
        # The state is frozen, its maps are not: a decision that changed one in place would show here.
        return json.dumps(to_plain(self.unit), sort_keys=True) if self.watched else ""

    def must(self, do: str, subject: str, by: str = "ann", after: int | None = None, **values: Any) -> Event:
        """Promise the event; a refusal fails the test with its words."""
        answer = self.give(do, subject, by, after, **values)
        assert isinstance(answer, Event), f"{do} {subject}: {answer}"
        return answer

    def checked_refusal(
        self, key: str, do: str, subject: str, by: str = "ann", after: int | None = None, **values: Any
    ) -> Refusal:
        """Promise the refusal of that key, given without any change."""
        before = self.unit
        answer = self.give(do, subject, by, after, **values)
        assert isinstance(answer, Refusal), f"{do} {subject} was accepted: {answer}"
        assert answer.key == key, f"{do} {subject} was refused as {answer.key}: {answer}"
        assert self.unit is before
        assert "{" not in str(answer)
        return answer

    def _append(self, decision: Decision, by: str) -> Event:
        reading = self.clock.read()
        refs, data = json.loads(json.dumps([decision.refs, decision.data], allow_nan=False))
        wall = wall_text(reading.wall_ms, self.unit.settings.zone)
        event = Event(
            SCHEMA, self.unit.seq + 1, "hh1", decision.kind, decision.subject, refs, reading.elapsed_ms, wall,
            reading.boot, by, data,
        )  # fmt: skip
        self.unit = evolve(self.unit, event)
        self.events.append(event)
        return event

    def replayed(self) -> Unit:
        """Promise the unit that folding every event once more gives."""
        unit = Unit()
        for event in self.events:
            unit = evolve(unit, event)
        return unit

    def reboot(self, down_s: float) -> None:
        """Switch off and on; what the clocks were last seen at is all that the old boot proves."""
        seen = self._seen
        self.clock.reboot(down_s)
        gap = longest_gap_ms(seen.wall_ms, self.clock.read())
        self._append(
            Decision("boot", "device", {}, {"seen_elapsed_ms": seen.elapsed_ms, "gap_longest_ms": gap}), "device"
        )

    def wait(self, seconds: float) -> None:
        self.clock.advance(seconds)

    def cycle(self, tag: str) -> Cycle:
        return self.unit.cycles[tag]

    def step(self, tag: str) -> Step | None:
        cycle = self.unit.cycles.get(tag)
        return self.shelf.protocol(cycle.text_sha256).step(cycle.step) if cycle else None

    def state(self, tag: str) -> State:
        return state_of(self.unit.cycles.get(tag), self.step(tag))

    def bath(self, label: str) -> Bath:
        return self.unit.baths[label]

    def pour(self, label: str, claim: str = "", **values: Any) -> Event:
        """Pour a bath: of detergent, or of the claim's disinfectant."""
        kind = {"kind": "disinfectant", "claim": claim} if claim else {"kind": "detergent"}
        today = local_date(self.clock.read().wall_ms, self.unit.settings.zone).isoformat()
        named = {"lot": f"LOT-{label}", "expires": f"{int(today[:4]) + 1}-06-30", "opened": today, **kind, **values}
        return self.must("pour-bath", label, **named)

    def bottle(self, label: str, type: str = "OPA 0.3 %", controlled: bool = True, **values: Any) -> Event:
        """Register a bottle of strips, and control its lot."""
        today = local_date(self.clock.read().wall_ms, self.unit.settings.zone).isoformat()
        named = {"type": type, "opened": today, "expires": f"{int(today[:4]) + 4}-06-30", **values}
        event = self.must("register-strips", label, **named)
        if controlled:
            self.must("strip-control", label, positive=3, negative=3)
        return event

    def receive(self, tag: str, **values: Any) -> Event:
        """Receive on time: the procedure ended 10 min ago and the pre-clean 8 min ago."""
        ago = [wall_text(self.clock.read().wall_ms - s * 1000, "UTC") for s in (600, 540, 480)]
        ordinary: dict[str, Any] = {
            "case": f"26-{self.unit.seq:04d}", "procedure_date": ago[0][:10], "procedure_type": "endoscopy",
            "procedure_end": ago[0], "precleaned": "yes", "preclean_start": ago[1], "preclean_end": ago[2],
            "precleaned_by": "ward nurse",
        }  # fmt: skip
        given = {name: value for name, value in {**ordinary, **values}.items() if value is not None}
        return self.must("receive", tag, **given)

    def detergent(self, tag: str) -> str:
        """Promise the label of a detergent bath that this scope may use, poured when there is none."""
        cycle = self.cycle(tag)
        for bath in self.unit.baths.values():
            if bath.kind == "detergent" and not bath.closed and bath.cycle == cycle.id:
                return bath.label
        self._poured += 1
        self.pour(f"W{self._poured}")
        return f"W{self._poured}"

    def strip(self, tag: str, label: str = "H4", result: str = "pass", **values: Any) -> Event:
        return self.must("strip-test", label, scope=tag, result=result, strip_lot=self.strips_for(label), **values)

    def strips_for(self, label: str) -> str:
        """Promise a bottle of strips that fits the bath, registered when there is none."""
        needed = self.bath(label).strip_type
        usable = [s for s in self.unit.strips.values() if s.controlled and not s.closed]
        fitting = [s.label for s in usable if needed in ("", s.type)]
        if not fitting:
            self.bottle(f"STRIP {needed}", needed)
        return fitting[0] if fitting else f"STRIP {needed}"

    def given(self, tag: str) -> dict[str, Any]:
        """Promise the confirmations and recorded values that the scope's step asks for."""
        step = self.step(tag)
        assert step is not None
        return {**dict.fromkeys(step.needs, True), **{name: RECORDED[name] for name in step.records}}

    def start_values(self, tag: str, label: str = "H4", temp_c: float = 21) -> dict[str, Any]:
        """Promise the values that start the scope's soak."""
        step = self.step(tag)
        assert step is not None
        if step.bath == "detergent":
            return {**self.given(tag), "bath": self.detergent(tag), "temp_c": 30}
        return {**self.given(tag), "bath": label, "temp_c": temp_c}

    def ordinary(self, tag: str, hld: str = "H4", detergent: str = "") -> tuple[str, dict[str, Any]]:
        """Promise the command and values that somebody who makes no mistake gives next."""
        step, state, given = self.step(tag), self.state(tag), self.given(tag)
        assert step is not None
        match state:
            case State.LOOK:
                good = min(step.outcomes, key=lambda o: (o.move is not Move.NEXT, o.move is not Move.OUT))
                lying = {"bath": detergent or self.detergent(tag), "temp_c": 30} if step.bath else {}
                return "look", {"outcome": good.word, **given, **lying}
            case State.PASS:
                return "pass", {"debris": "none", **given}
            case State.COUNT:
                return "count", given
            case State.OUT if step.bath == "detergent":
                return "start", {**given, "bath": detergent or self.detergent(tag), "temp_c": 30}
            case State.OUT:
                return "start", self.start_values(tag, hld)
            case State.RINSE | State.AIR_OFF:
                return "start", given
            case State.RUN_OFF:
                return "start", {"machine": "M1", "run": "17", **given}
            case State.IN:
                return "lift", {"temp_c": 30 if step.bath == "detergent" else 21}
            case State.AIR_ON:
                return "check", {"dry": True}
            case State.RUN_ON:
                return "run-end", {"result": "complete"}
            case State.READING:
                return "skip", {"reason": "not today"}
        raise AssertionError(f"{tag} is {state.value} at {step.id}")

    def left_s(self, tag: str) -> float:
        """Promise how long still what runs must run."""
        cycle = self.cycle(tag)
        if not cycle.running or cycle.timer is None or cycle.timer.min_s is None:
            return 0
        return max(0, cycle.timer.min_s - (self.now.proven_ms - cycle.timer.since.proven_ms) / 1000)

    def go(self, tag: str, hld: str = "H4") -> Event:
        """Do the ordinary next thing after `tap_s`, waiting out whatever runs first."""
        self.wait(self.tap_s)
        self.wait(self.left_s(tag))
        step = self.step(tag)
        if self.state(tag) is State.OUT and step is not None and step.bath == "disinfectant":
            self.strip(tag, hld)
        do, values = self.ordinary(tag, hld)
        return self.must(do, tag, **values)

    def take_to(self, tag: str, step_id: str, hld: str = "H4") -> Cycle:
        """Walk the scope with ordinary values until it is at that step, not begun. It is received when need be."""
        if tag not in self.unit.cycles:
            self.wait(self.tap_s)
            self.receive(tag)
        while self.cycle(tag).step != step_id:
            self.go(tag, hld)
            assert tag in self.unit.cycles, f"{tag} ended before {step_id}"
        return self.cycle(tag)

    def whole_cycle(self, tag: str, hld: str = "H4") -> list[Event]:
        """Promise the events of a whole ordinary cycle."""
        begun = len(self.events)
        if tag not in self.unit.cycles:
            self.wait(self.tap_s)
            self.receive(tag)
        while tag in self.unit.cycles:
            self.go(tag, hld)
        return self.events[begun:]

    def soaking(self, tag: str, label: str = "H4", temp_c: float = 21) -> Cycle:
        """Take the scope into its disinfectant soak, which begins now."""
        self.take_to(tag, "disinfectant-soak", label)
        self.strip(tag, label)
        self.must("start", tag, **self.start_values(tag, label, temp_c))
        return self.cycle(tag)
