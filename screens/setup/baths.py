"""Pouring a bath with what its label says, and discarding one with the reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from protocols.bath import last_day
from protocols.model import Claim
from protocols.unit import Bath, Unit
from screens.moments import full_day_words, span_words
from screens.setup.choosing import ChoosePage, Option
from screens.setup.form import Field, FormPage
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

KINDS = ("disinfectant", "detergent")
_LETTERS = {"disinfectant": "H", "detergent": "W"}
_REASONS = ("old", "served", "spilled", "day")


def free_label(unit: Unit, kind: str) -> str:
    """Promise a label that no open bath has: a letter for the kind and the lowest free number."""
    taken = {bath.label for bath in unit.baths.values() if not bath.closed}
    return next(f"{_LETTERS[kind]}{n}" for n in range(1, len(taken) + 2) if f"{_LETTERS[kind]}{n}" not in taken)


def claim_option(claim: Claim) -> Option:
    """Promise a claim as a tile: only an enabled manual one may be chosen, the others say why not."""
    why = say(f"claim.{claim.use}") if claim.use != "manual" else "" if claim.enabled else say("claim.memory")
    time = span_words(claim.contact_s_min.value)
    temp = f"{claim.temp_c_min.value:g}" if claim.temp_c_min else say("fact.unknown")
    if claim.reuse_d_max is None:
        under = say("claim.under_single", time=time, temp=temp)
    else:
        under = say("claim.under", time=time, temp=temp, days=f"{claim.reuse_d_max.value:g}")
    return Option(claim.id, claim.title, under, why)


class BathPage(FormPage):
    """A new bath. The first one of a unit is a disinfectant; detergent is poured fresh for every scope."""

    key = "setup-bath"

    def title(self) -> str:
        return say("form.bath.title")

    def entered(self, **what: Any) -> None:
        """Begin with the kind asked for, and a free label."""
        super().entered(**what)
        if what.get("kind"):
            self.put("kind", what["kind"])

    def fields(self) -> list[Field]:
        kinds = [Option(kind, say(f"kind.{kind}")) for kind in KINDS]
        fields = [Field("kind", say("form.bath.kind"), "choose", options=lambda: kinds)]
        kind = self.values.get("kind")
        if kind == "disinfectant":
            fields.append(Field("claim", say("form.bath.claim"), "choose", options=self._claims))
        elif kind == "detergent":
            fields.append(Field("title", say("form.bath.name"), "text", optional=True))
        fields += [
            Field("label", say("form.bath.label"), "tag"),
            Field("lot", say("form.bath.lot"), "tag"),
            Field("expires", say("form.bath.expires"), "date"),
            Field("opened", say("form.bath.opened"), "recent"),
        ]
        claim = self.desk.door.shelf.claims.get(self.values.get("claim", ""))
        if kind == "disinfectant" and claim is not None and claim.needs_activation:
            fields.append(Field("activated", say("form.bath.activated"), "recent"))
        return fields

    def put(self, name: str, value: Any) -> None:
        if name == "kind" and not self.values.get("label"):
            self.values["label"] = free_label(self.desk.unit, value)
        super().put(name, value)

    def unfinished(self) -> bool:
        """Kind and label come by themselves; anything more was given by somebody."""
        return bool(self.values.keys() - {"kind", "label"})

    def scanned(self, text: str) -> bool:
        """A scan gives the lot: that is what containers carry as a code."""
        self.put("lot", text)
        return True

    def _claims(self) -> list[Option]:
        return [claim_option(claim) for claim in self.desk.door.shelf.claims.values()]

    def submit_words(self) -> str:
        return say("form.bath.add", label=self.values["label"])

    def submit(self) -> None:
        first = not self.desk.unit.baths
        # What was given for a kind that was then changed is not part of the bath.
        names = {field.name for field in self.fields()} - {"label"}
        values = {name: value for name, value in self.values.items() if name in names and value}
        if self.shell.give("pour-bath", self.values["label"], values).done:
            self.finished("setup" if first else "setup-baths")


def bath_line(bath: Bath, zone: str) -> str:
    """Promise a bath in one line of a list."""
    if bath.withdrawn:
        return say("setup.bath.withdrawn", why=bath.withdrawn)
    last = last_day(bath, zone)
    day = full_day_words(last[0]) if last else say("fact.unknown")
    return say("setup.bath.line", kind=say(f"kind.{bath.kind}"), lot=bath.lot, day=day)


def ask_close(shell: Shell, label: str) -> None:
    """Ask why a bath is discarded, then once more; scopes still lying in it are named."""
    reasons = [Option(key, say(f"setup.close.{key}")) for key in _REASONS]

    def sure(key: str) -> None:
        unit = shell.desk.unit
        uid = unit.baths[label].uid
        lying = sorted(c.scope for c in unit.cycles.values() if c.soak and c.soak.bath == uid)
        words = say("setup.close.sure", label=label)
        if lying:
            words = f"{say('setup.close.sure_lying', tags=', '.join(lying), label=label)} {words}"
        reason = say(f"setup.close.{key}")
        shell.confirm(
            words, say("setup.close.yes", label=label), lambda: shell.give("close-bath", label, {"reason": reason})
        )

    shell.over(ChoosePage(shell, say("setup.close.why", label=label), reasons, sure))
