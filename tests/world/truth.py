"""What really happened on a simulated bench, kept apart from the engine: how long the handheld had power.

Only time with power can be proven, whatever the handheld believes. So no soak, run, air or rinse may be taken as done,
and no prompt may call for hands, before the handheld has been on for that long since it began. The times that are
needed are looked up in the protocol and the claim, not taken from the record.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from protocols.event import Event
from protocols.model import Step
from protocols.prompts import Level, Prompt
from protocols.shelf import Shelf


class Broken(Exception):
    """A promise that the simulated bench must keep was broken."""


@dataclass(frozen=True)
class Running:
    """Something with a minimum that runs on a scope: since when (ms with power) and how long it must last (s)."""

    kind: str
    since_ms: int
    needed_s: float


@dataclass
class Scope:
    """What is true of one scope: where it is, what runs, whether contact was complete in this cycle."""

    text_sha256: str
    step: str
    running: Running | None = None
    proven: bool = False
    before: tuple[str, Running | None, bool] | None = None


@dataclass
class Truth:
    """The bench as it really is. `power_ms` is time with power; `boots` maps a boot to what it was at elapsed zero."""

    shelf: Shelf
    power_ms: int = 0
    boots: dict[str, int] = field(default_factory=dict)
    scopes: dict[str, Scope] = field(default_factory=dict)
    claims: dict[str, str] = field(default_factory=dict)
    accepted_soaks: int = 0
    completed: int = 0

    def observe(self, event: Event) -> None:
        """Take one recorded event in; Broken when it says that something was done that can't have been."""
        at_ms = self.boots[event.boot] + event.elapsed
        if event.kind == "pour-bath":
            self.claims[event.id] = event.data["bath"].get("claim", "")
        elif event.kind == "receive":
            self.scopes[event.subject] = Scope(event.data["text_sha256"], event.data["to"])
        scope = self.scopes.get(event.subject)
        if scope is None or event.kind in ("receive", "note", "release"):
            return
        if event.kind == "undo":
            if scope.before is None:
                del self.scopes[event.subject]
            else:
                scope.step, scope.running, scope.proven = scope.before
            return
        before = scope.step, scope.running, scope.proven
        self._require_enough(event, scope, at_ms)
        self._move(event, scope, at_ms)
        scope.before = before if event.data.get("undo") else None
        if event.data.get("ends"):
            if event.data["ends"] == "completed":
                self.completed += 1
                if not scope.proven:
                    raise Broken(f"{event.id}: {event.subject} was completed without contact that was proven")
            del self.scopes[event.subject]

    def _require_enough(self, event: Event, scope: Scope, at_ms: int) -> None:
        running = scope.running
        if running is None:
            return
        enough = at_ms - running.since_ms >= running.needed_s * 1000
        passed = f"{(at_ms - running.since_ms) / 1000} s of {running.needed_s} s with power"
        if event.kind == "lift":
            result = event.data["result"]
            accepted = result in ("full", "late")
            if accepted and not enough:
                raise Broken(f"{event.id}: {event.subject} lifted as {result} after {passed}")
            if result == "early" and not event.data.get("reason"):
                raise Broken(f"{event.id}: {event.subject} lifted early without a reason")
            if result == "unproven" and not event.data.get("hold"):
                raise Broken(f"{event.id}: {event.subject} lifted unproven, and no lead has to decide")
            if not accepted and result != "unproven" and event.data.get("to") is not None:
                raise Broken(f"{event.id}: {event.subject} went on after a lift that was {result}")
            self.accepted_soaks += accepted
        done = {"check": "air", "run-end": "run", "count": "each"}.get(event.kind)
        if done == running.kind and not enough and event.data.get("result", "complete") == "complete":
            raise Broken(f"{event.id}: {event.kind} of {event.subject} was accepted after {passed}")

    def _move(self, event: Event, scope: Scope, at_ms: int) -> None:
        step = self.shelf.protocol(scope.text_sha256).step(scope.step)
        full = {"lift": ("full", "late"), "run-end": ("complete",)}.get(event.kind, ())
        if step.disinfects and event.data.get("result") in full:
            scope.proven = True
        if event.data.get("marks", {}).get("disinfected") is False:
            scope.proven = False
        if event.kind == "start":
            scope.running = self._begun(event, step, at_ms)
        elif event.kind == "count" and scope.running is not None and not event.data.get("to"):
            scope.running = Running("each", at_ms, scope.running.needed_s)
        elif event.kind in ("lift", "run-end", "interrupt") or event.data.get("to") is not None:
            scope.running = None
        if event.data.get("to"):
            scope.step = event.data["to"]

    def _begun(self, event: Event, step: Step, at_ms: int) -> Running | None:
        minimum = step.each_s_min if step.kind == "count" else step.run_s_min or step.soak_s_min
        needed_s = minimum.value if minimum is not None else 0
        kind = {"count": "each", "machine run": "run"}.get(step.kind, "air" if step.bath == "air" else "soak")
        claim = self.shelf.claims.get(self.claims.get(event.refs.get("bath", ""), ""))
        if claim is not None and claim.contact_s_min is not None:
            needed_s = max(needed_s, claim.contact_s_min.value)
        return Running(kind, at_ms, needed_s)

    def require_not_early(self, prompt: Prompt, power_ms: float) -> None:
        """Broken when a prompt says that something is ready that can't be."""
        scope = self.scopes.get(prompt.scope)
        running = scope.running if scope is not None else None
        if prompt.level is not Level.READY or running is None or prompt.kind != running.kind:
            return
        # A call is placed within its stretch of time in seconds as a float; records count whole milliseconds.
        if power_ms + 0.001 < running.since_ms + running.needed_s * 1000:
            left_s = (running.since_ms + running.needed_s * 1000 - power_ms) / 1000
            raise Broken(f"{prompt.kind} of {prompt.scope} was called {left_s} s early")
