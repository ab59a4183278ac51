"""Forms about one scope: the end of its procedure, a fault, its checks on return from repair."""

from __future__ import annotations

from typing import Any

from protocols.clock import wall_text
from screens.asking import WhoPage
from screens.receive.answers import AGO_MIN
from screens.setup.choosing import Option
from screens.setup.form import Field, FormPage
from screens.words import say


class _OfScope(FormPage):
    """A form that keeps the tag of its scope."""

    tab = "watch"
    heading = ""

    def entered(self, **what: Any) -> None:
        """Take the scope, and begin anew when asked to."""
        self.tag = what.get("tag", getattr(self, "tag", ""))
        super().entered(**what)

    def title(self) -> str:
        return say(self.heading, tag=self.tag)

    def given(self) -> dict[str, Any]:
        """What was given, as values of the command."""
        return {name: value for name, value in self.values.items() if value}

    def done(self, do: str, values: dict[str, Any], by: str = "") -> None:
        """Give the command, and go back to the scope once it is recorded."""
        if self.shell.give(do, self.tag, values, by=by).done:
            self.finished("scope", tag=self.tag)


class EndedPage(_OfScope):
    """A procedure is over and its scope has not come in."""

    key = "scope-ended"
    heading = "ended.title"

    def fields(self) -> list[Field]:
        found = [Field("ago", say("ended.when"), "choose", options=self._times)]
        scope = self.desk.unit.scopes.get(self.tag)
        if scope is not None and scope.used is None:
            found.append(Field("case", say("receive.case"), "case"))
        return found

    @staticmethod
    def _times() -> list[Option]:
        return [Option(str(m), say("receive.ago", minutes=m) if m else say("receive.now")) for m in AGO_MIN]

    def submit_words(self) -> str:
        return say("ended.give", tag=self.tag)

    def submit(self) -> None:
        wall_ms = self.desk.now().wall_ms - int(self.values["ago"]) * 60_000
        values = {"procedure_end": wall_text(wall_ms, self.desk.unit.settings.zone)}
        if self.values.get("case"):
            values["case"] = self.values["case"]
        self.done("procedure-ended", values)


class FaultPage(_OfScope):
    """Something is wrong with a scope: it goes into quarantine."""

    key = "scope-fault"
    heading = "fault.title"

    def fields(self) -> list[Field]:
        kinds = [Option(kind, say(f"fault.{kind}")) for kind in ("leak", "damage", "contamination", "other")]
        return [
            Field("kind", say("fault.kind"), "choose", options=lambda: kinds),
            Field("text", say("fault.text"), "text"),
            Field("owner", say("fault.owner"), "name", optional=True),
        ]

    def submit_words(self) -> str:
        return say("fault.give", tag=self.tag)

    def submit(self) -> None:
        self.done("report-fault", self.given())


class ReturnPage(_OfScope):
    """The checks that must pass before a scope leaves quarantine; a lead answers for them."""

    key = "scope-return"
    heading = "return.title"

    def fields(self) -> list[Field]:
        leak = [Option(key, say(f"return.leak.{key}")) for key in ("pass", "fail", "none")]
        looked = [Option(key, say(f"return.looked.{key}")) for key in ("pass", "fail")]
        scope = self.desk.unit.scopes.get(self.tag)
        dirty = scope is not None and scope.fault is not None and scope.fault.kind == "contamination"
        culture = [Field("culture", say("return.culture"), "tag")] if dirty else []
        return [
            Field("leak_test", say("return.leak"), "choose", options=lambda: leak),
            Field("inspection", say("return.looked"), "choose", options=lambda: looked),
            *culture,
            Field("report", say("return.report"), "tag", optional=True),
        ]

    def submit_words(self) -> str:
        return say("return.give", tag=self.tag)

    def submit(self) -> None:
        if self.desk.unit.lead(self.desk.by):
            self.done("return-checked", self.given())
        else:
            self.shell.over(
                WhoPage(self.shell, lambda who: self.done("return-checked", self.given(), who.id), leads=True)
            )
