"""What a tap on a choice leads to: its confirmation, the lead it needs, the value that is typed, its one command."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from protocols.clock import Stamp, longest_s
from protocols.lane import Lane
from protocols.unit import Person
from screens.desk import Told
from screens.offer import Choice, Typed
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

Then = Callable[[Told], None]
# A scope acted on within this time before a start was in hand: its page opens. Own figure.
IN_HAND_S = 600


def choose(shell: Shell, choice: Choice, after: int | None, then: Then | None) -> None:
    """Give the command of a choice once it is confirmed; what only a lead may do is given by a lead who says so.

    The person signed in stays the same.
    """

    def give(by: str = "") -> None:
        told = shell.give(choice.do, choice.subject, choice.values, after, by)
        if then is not None:
            then(told)

    def sure(by: str = "", name: str = "") -> None:
        if not choice.confirm:
            give(by)
            return
        words = say("shell.as_lead", name=name, words=choice.confirm) if name else choice.confirm
        shell.confirm(words, choice.words, lambda: give(by))

    if choice.lead and not shell.desk.unit.lead(shell.desk.by):
        from screens.asking import WhoPage

        shell.over(WhoPage(shell, lambda person: sure(person.id, person.name), leads=True))
    else:
        sure()


def ask_who(shell: Shell) -> None:
    """Ask who works here now; who answers gives the commands from then on."""
    from screens.asking import WhoPage

    shell.over(WhoPage(shell, lambda person: shell.sign_in(person.id), words=say("bench.who")))


def type_value(shell: Shell, typed: Typed, after: int | None, then: Then | None) -> None:
    """Give the command of a typed value once the value is done."""

    def give(value: Any) -> None:
        told = shell.give(typed.do, typed.subject, {**typed.values, typed.name: value}, after)
        if then is not None:
            then(told)

    shell.ask_text(typed.words, typed.kind, give, typed.unit)


def identify(shell: Shell, person: Person, then: Callable[[Person], None]) -> None:
    """Call `then` with the person once they have shown who they are: by PIN where one is needed."""

    def take(pin: str) -> None:
        told = shell.desk.prove(person, pin)
        if told.done:
            then(person)
        else:
            shell.tell(told)

    if not shell.desk.needs_pin(person):
        then(person)
    elif person.pin is None:
        shell.tell(shell.desk.prove(person, ""))
    else:
        shell.ask_text(say("pin.ask", name=person.name), "pin", take)


def ask_for_acts(shell: Shell) -> None:
    """Ask whoever has just signed in about what was done while nobody was."""
    acts = shell.desk.unit.unconfirmed
    if acts:
        scopes = ", ".join(dict.fromkeys(acts.values()))
        words = say("acts.ask", count=len(acts), scopes=scopes)
        shell.confirm(words, say("acts.yes"), lambda: stand_for_acts(shell), say("acts.no"))


def stand_for_acts(shell: Shell) -> None:
    """Confirm every unconfirmed act, and say what could not be recorded."""
    for told in shell.desk.confirm_acts():
        shell.tell(told)
    shell.look()


def in_hand(lanes: Iterable[Lane], now: Stamp) -> str:
    """Promise the tag of the scope that was acted on last, "" when that was not a moment ago."""
    recent = max(lanes, key=lambda lane: lane.cycle.last_seq, default=None)
    return recent.scope if recent is not None and longest_s(recent.cycle.last_at, now) <= IN_HAND_S else ""
