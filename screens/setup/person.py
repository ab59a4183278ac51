"""One person of the unit: setting the PIN, giving a badge, taking them off the list."""

from __future__ import annotations

from typing import TYPE_CHECKING

from protocols.unit import Person
from screens.setup.choosing import ChoosePage, Option
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


def change_person(shell: Shell, person: Person) -> None:
    """Ask what is to change about a person, then do it; the engine says who may."""
    words = say("person.what", name=person.name)
    options = [Option(key, say(f"person.{key}")) for key in ("pin", "badge", "retire")]
    shell.over(ChoosePage(shell, words, options, lambda key: _CHANGES[key](shell, person)))


def _pin(shell: Shell, person: Person) -> None:
    def again(first: str) -> None:
        words = say("pin.again", name=person.name)
        shell.ask_text(words, "pin", lambda second: shell.tell(shell.desk.set_pin(person.id, first, second)))

    shell.ask_text(say("pin.new", name=person.name), "pin", again)


def _badge(shell: Shell, person: Person) -> None:
    words = say("person.badge.ask", name=person.name)
    shell.ask_text(words, "tag", lambda badge: shell.give("set-badge", person.id, {"badge": badge}))


def _retire(shell: Shell, person: Person) -> None:
    def retire() -> None:
        shell.give("retire-person", person.id, {"reason": say("person.retire.reason")})

    shell.confirm(say("person.retire.sure", name=person.name), say("person.retire"), retire)


_CHANGES = {"pin": _pin, "badge": _badge, "retire": _retire}
