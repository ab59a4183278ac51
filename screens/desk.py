"""The desk: what every page has of the engine. One door, one person signed in, one answer at a time.

Pages ask it for lanes, prompts and offers as of now, and hand it choices; they never see the door. Nothing here needs
Kivy. A command is given with the event number that its page showed, so that an old page can't act on a new state.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from data.door import Door
from data.pins import pin_values, proof
from protocols.clock import Stamp, local_date, time_of_day
from protocols.errors import ClockError, CommandFault, DiskError
from protocols.event import Command, Event
from protocols.labels import Label, read_label
from protocols.lane import Lane, lanes
from protocols.prompts import Prompt, due
from protocols.refusals import Refusal
from protocols.unconfirmed import UNCONFIRMED
from protocols.unit import Person
from screens.history import History
from screens.lock import Lock
from screens.offer import Offer, bath_refused, offer_for
from screens.shown import in_words, refused
from screens.words import say


@dataclass(frozen=True, slots=True)
class Told:
    """The answer to one tap: done or not, in words, with the rule that refused and what to do instead."""

    done: bool
    words: str
    remedy: str = ""
    rule: str = ""
    event: Event | None = None


class Desk:
    """The door for pages: `by` is who is signed in, "" while nobody is (as after the idle lock)."""

    def __init__(self, door: Door, by: str = "") -> None:
        self.door = door
        self.by = by
        self.seen = History(door)
        self._lock = Lock()
        # Hears which rule refused, and when; the app counts them.
        self.on_refusal: Callable[[str, Stamp], None] = lambda rule, now: None

    @property
    def unit(self) -> Any:
        """Promise the unit as it stands."""
        return self.door.unit

    def now(self) -> Stamp:
        return self.door.now()

    def lanes(self, now: Stamp | None = None, prompts: Sequence[Prompt] | None = None) -> list[Lane]:
        """Promise a lane for every open cycle, most needed first; `prompts` as `prompts` gave them for `now`."""
        return lanes(self.door.unit, self.door.shelf, now or self.now(), prompts)

    def troubles(self, lanes: Iterable[Lane]) -> int:
        """Promise how many scopes the shift lead must know of: past a limit, or waiting for a lead, stored ones too."""
        unit = self.door.unit
        count = sum(1 for lane in lanes if lane.over_s > 0 or lane.cycle.hold is not None)
        return count + sum(1 for s in unit.scopes.values() if s.hold is not None and s.tag not in unit.cycles)

    def lane(self, tag: str) -> Lane | None:
        """Promise the lane of one scope, or None when it is not in a cycle."""
        return next((lane for lane in self.lanes() if lane.scope == tag), None)

    def prompts(self, at: Stamp | None = None) -> list[Prompt]:
        """Promise every prompt due now, most needed first; or `at` a moment to come, if nobody acts until then."""
        return due(self.door.unit, self.now() if at is None else at)

    def offer(self, lane: Lane, picked: Mapping[str, str] | None = None) -> Offer:
        """Promise what the page of one scope offers now."""
        return offer_for(self.door.unit, self.door.shelf, self.now(), lane, picked)

    def bath_refused(self, lane: Lane, label: str) -> str:
        """Promise why the scope may not lie in the bath of that label at its step, in words; "" when it may."""
        return bath_refused(self.door.unit, self.door.shelf, self.now(), lane, label)

    def clock_face(self, stamp: Stamp | None = None) -> str:
        """Promise the time of day in the unit's zone, like 10:42."""
        moment = stamp or self.now()
        return time_of_day(moment.wall_ms, self.door.unit.settings.zone)

    def give(
        self, do: str, subject: str, values: Mapping[str, Any] | None = None, after: int | None = None, by: str = ""
    ) -> Told:
        """Promise the answer to one command by the person signed in, or by the lead named in `by`.

        Nothing is done unless `done` is true. While nobody is signed in, only what needs nobody is done, unconfirmed.
        """
        person = self.door.unit.people.get(by)
        if person is not None and by != self.by and self.needs_pin(person) and not self._vouched(by):
            return Told(False, say("pin.needed", name=person.name), say("pin.needed.remedy"), "pin-needed")
        nobody = UNCONFIRMED if self.door.unit.people else ""
        return self._give(Command(do, subject, dict(values or {}), by or self.by or nobody, after))

    def _give(self, command: Command) -> Told:
        try:
            answer = self.door.give(command)
        except CommandFault as fault:
            return Told(False, say("told.shape", why=in_words(fault.args[0])), rule="shape")
        except DiskError as error:
            return Told(False, say("told.disk", why=error), rule="disk")
        except ClockError as error:
            return Told(False, say("told.clock", why=error), rule="clock")
        if isinstance(answer, Refusal):
            with suppress(ClockError):
                self.on_refusal(answer.key, self.now())
            why, remedy = refused(answer, self.unit.name_of)
            return Told(False, say("told.refused", why=why), remedy, answer.key)
        self.seen.add(answer)
        notices = answer.data.get("notices", ())
        return Told(True, "; ".join(map(in_words, notices)), event=answer)

    # --- who is signed in

    def needs_pin(self, person: Person) -> bool:
        """Promise whether this person must type a PIN: who has one, and everybody where the unit requires it."""
        return person.pin is not None or bool(self.door.unit.settings.pins_required)

    def prove(self, person: Person, pin: str) -> Told:
        """Promise whether that is the person's PIN; right or wrong stands in the record before it is said."""
        kept = self.door.unit.people[person.id].pin if person.id in self.door.unit.people else None
        if kept is None:
            return Told(False, say("pin.none", name=person.name), say("pin.none.remedy"), "no-pin")
        self._lock.forget()
        told = self._give(Command("sign-in", person.id, {"hash": proof(pin, kept)}, UNCONFIRMED))
        if told.event is None:
            return told
        if told.event.kind == "sign-in":
            self._lock.vouch(person.id, self.now())
            return told
        wait_s = told.event.data["wait_s"]
        words = say("pin.wrong.wait", seconds=wait_s) if wait_s else say("pin.wrong")
        return Told(False, words, rule="pin-wrong", event=told.event)

    def sign_in(self, person_id: str) -> Told:
        """Make a person the one who gives commands from now on; who needs a PIN must just have proved it."""
        person = self.door.unit.people.get(person_id)
        if person is not None and self.needs_pin(person) and not self._vouched(person_id):
            return Told(False, say("pin.needed", name=person.name), say("pin.needed.remedy"), "pin-needed")
        self.by = person_id
        self.touched()
        return Told(True, "")

    def by_badge(self, text: str) -> Person | None:
        """Promise whose badge was scanned, or None."""
        people = self.door.unit.people.values()
        return next((p for p in people if p.badge and p.badge.casefold() == text.casefold()), None)

    def label(self, text: str) -> Label:
        """Promise what a scanned or typed label says, as of today. Raises LabelFault when that is not certain."""
        return read_label(text, local_date(self.now().wall_ms, self.door.unit.settings.zone))

    def scope_of(self, text: str) -> str:
        """Promise the tag of the scope with that tag, or with the serial number on that label; "" for none.

        Raises LabelFault for a label that can't be read for certain.
        """
        scopes = self.door.unit.scopes
        tag = next((known for known in scopes if known.casefold() == text.casefold()), "")
        if tag:
            return tag
        label = self.label(text)
        serial = label.serial or label.giai or label.text
        return next((s.tag for s in scopes.values() if s.serial and s.serial.casefold() == serial.casefold()), "")

    def set_pin(self, person_id: str, first: str, second: str) -> Told:
        """Promise the answer to a new PIN, typed twice."""
        if first != second:
            return Told(False, say("pin.differ"), rule="pin-differ")
        try:
            return self.give("set-pin", person_id, pin_values(first))
        except CommandFault as fault:
            return Told(False, say("told.shape", why=in_words(fault.args[0])), rule="shape")

    def confirm_acts(self) -> list[Told]:
        """The person signed in stands for every act that nobody has signed; the answers, one a scope."""
        scopes = dict.fromkeys(self.door.unit.unconfirmed.values())
        return [self.give("confirm-acts", scope) for scope in scopes]

    def touched(self) -> None:
        """Note that a hand is on the handheld."""
        with suppress(ClockError):  # the next look at the clock says it, where it can be read
            self._lock.touched(self.now())

    def lock_if_idle(self) -> bool:
        """Promise whether the handheld has just been idle for the unit's time; then nobody is signed in any more."""
        if not self.by or not self._lock.due(self.now(), self.door.unit.settings.lock_after_s):
            return False
        self.by = ""
        self._lock.forget()
        return True

    def _vouched(self, person_id: str) -> bool:
        return self._lock.vouched(person_id, self.now())
