"""Adding a person: a name and what the person may do."""

from __future__ import annotations

from typing import Any

from screens.desk import Told
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.words import say

ROLES = ("technician", "lead", "administrator")


def id_of(name: str) -> str:
    """Promise the id of a person from the name: small letters and hyphens, as it stands in the record."""
    kept = "".join(char if char.isalnum() else "-" for char in name.casefold())
    return "-".join(part for part in kept.split("-") if part)


def spelled(text: str) -> str:
    """Promise a name as people write it; the keys type capitals only."""
    return text.title() if text.isupper() else text


class PersonPage(FormPage):
    """A new person. On an empty unit the first one is its administrator, and is signed in at once."""

    key = "setup-person"

    def title(self) -> str:
        return say("form.person.title") if self.desk.unit.people else say("form.person.first")

    def fields(self) -> list[Field]:
        name = Field("name", say("form.person.name"), "name")
        if not self.desk.unit.people:
            return [name]
        roles = [Option(role, say(f"role.{role}")) for role in ROLES]
        return [name, Field("role", say("form.person.role"), "choose", options=lambda: roles)]

    def put(self, name: str, value: Any) -> None:
        super().put(name, spelled(value) if name == "name" else value)

    def submit_words(self) -> str:
        return say("form.person.add", name=self.values["name"])

    def submit(self) -> None:
        first = not self.desk.unit.people
        name, person = self.values["name"], id_of(self.values["name"])
        if not person or person in self.desk.unit.people:
            self.shell.tell(Told(False, say("form.person.same", name=name)))
            return
        role = "administrator" if first else self.values["role"]
        told = self.shell.give("add-person", person, {"name": name, "role": role}, by=person if first else "")
        if not told.done:
            return
        if first:
            self.shell.sign_in(person)
        self.finished("setup" if first else "setup-people")
