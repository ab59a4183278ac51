"""Adding a scope: its tag and the protocol its cycles follow; a protocol not in use yet is taken into use by a lead."""

from __future__ import annotations

from typing import Any

from protocols.labels import LabelFault
from screens.asking import WhoPage
from screens.desk import Told
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.shown import in_words
from screens.words import say, shipped

_LOAN = ("loaned_from", "loaned_until")


class ScopePage(FormPage):
    """A new scope."""

    key = "setup-scope"

    def title(self) -> str:
        return say("form.scope.title")

    def fields(self) -> list[Field]:
        loan = [
            Field("loaned_from", say("form.scope.loaned_from"), "date", optional=True),
            Field("loaned_until", say("form.scope.loaned_until"), "date", optional=True),
        ]
        return [
            Field("tag", say("form.scope.tag"), "tag"),
            Field("protocol", say("form.scope.protocol"), "choose", options=self._protocols),
            Field("model", say("form.scope.model"), "text", optional=True),
            Field("serial", say("form.scope.serial"), "tag", optional=True),
            Field("channels", say("form.scope.channels"), "text", optional=True),
            Field("loaner", say("form.scope.loaner"), "switch"),
            *(loan if self.values.get("loaner") else []),
        ]

    def _protocols(self) -> list[Option]:
        """Those in use first, with the text in use; then those shipped that nobody has taken into use."""
        shelf, adopted = self.desk.door.shelf, self.desk.unit.protocols
        shas = {**shelf.shipped, **adopted}
        found = []
        for name, sha in sorted(shas.items(), key=lambda item: (item[0] not in adopted, item[0])):
            protocol = shelf.protocol(sha)
            key = "protocol.adopted" if name in adopted else "protocol.shipped"
            found.append(Option(name, shipped(protocol.title), say(key, version=protocol.version)))
        return found

    def scanned(self, text: str) -> bool:
        """A scan gives the tag; a GS1 label of the maker gives the serial number that it holds."""
        try:
            label = self.desk.label(text)
        except LabelFault as fault:
            self.shell.tell(Told(False, in_words(fault.args[0]), rule="label-unread"))
            return True
        serial = label.serial or label.giai
        self.put("serial" if serial else "tag", serial or text)
        return True

    def submit_words(self) -> str:
        return say("form.scope.add", tag=self.values["tag"])

    def submit(self) -> None:
        if self.values["protocol"] in self.desk.unit.protocols:
            self._add()
        elif self.desk.unit.lead(self.desk.by):
            self._sure(self.desk.by)
        else:
            words = say("protocol.who")
            self.shell.over(WhoPage(self.shell, lambda who: self._sure(who.id), leads=True, words=words))

    def _sure(self, lead: str) -> None:
        shelf = self.desk.door.shelf
        title = shelf.protocol(shelf.shipped[self.values["protocol"]]).title
        self.shell.confirm(say("protocol.sure", title=shipped(title)), say("protocol.yes"), lambda: self._adopt(lead))

    def _adopt(self, lead: str) -> None:
        # Two commands, two lines of the record: the scope is added only after its protocol is in use.
        if self.shell.give("adopt-protocol", self.values["protocol"], by=lead).done:
            self._add(lead)

    def _add(self, by: str = "") -> None:
        first = not self.desk.unit.scopes
        values: dict[str, Any] = {"protocol": self.values["protocol"], "loaner": bool(self.values.get("loaner"))}
        values.update({name: self.values[name] for name in ("model", "serial", "channels") if self.values.get(name)})
        if values["loaner"]:
            values.update({name: self.values[name] for name in _LOAN if self.values.get(name)})
        if self.shell.give("add-scope", self.values["tag"], values, by=by).done:
            self.finished("setup" if first else "setup-scopes")
