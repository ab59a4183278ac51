"""Pouring a bath from a registered container or with what its label says, and what may be done with one that stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from protocols.bath import last_day, unusable
from protocols.claims import claim_of, claims_of
from protocols.clock import Stamp
from protocols.stock import Container
from protocols.unit import Bath, Unit
from screens.moments import full_day_words
from screens.offer import Choice
from screens.offer.baths import free_label
from screens.setup.choosing import ChoosePage, DatePage, Option
from screens.setup.claim_words import claim_option
from screens.setup.form import Field
from screens.setup.label_form import LabelForm
from screens.shown import refused
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

KINDS = ("disinfectant", "detergent")
_REASONS = ("old", "served", "spilled", "day")


def open_containers(unit: Unit, kind: str = "") -> list[Container]:
    """Promise the containers of a kind, or of every kind, from which something may still be poured."""
    return sorted((c for c in unit.containers.values() if not c.closed and kind in ("", c.kind)), key=lambda c: c.label)


def container_option(container: Container) -> Option:
    """Promise a container as a tile."""
    words = say("container.pick", label=container.label, title=container.title)
    return Option(container.label, words, say("setup.strips.lot", lot=container.lot))


class BathPage(LabelForm):
    """A new bath. The first one of a unit is a disinfectant; detergent is poured fresh for every scope."""

    key = "setup-bath"

    def title(self) -> str:
        return say("form.bath.title")

    def entered(self, **what: Any) -> None:
        """Begin with the kind or the container asked for, and a free label."""
        super().entered(**what)
        container = self.desk.unit.containers.get(what.get("container", ""))
        if container is not None:
            self.values["container"] = container.label
            self.put("kind", container.kind)
        elif what.get("kind"):
            self.put("kind", what["kind"])

    def _container(self) -> Container | None:
        held: Container | None = self.desk.unit.containers.get(self.values.get("container", ""))
        return held if held is not None and held.kind == self.values.get("kind") else None

    def fields(self) -> list[Field]:
        kinds = [Option(kind, say(f"kind.{kind}")) for kind in KINDS]
        fields = [Field("kind", say("form.bath.kind"), "choose", options=lambda: kinds)]
        kind, held = self.values.get("kind"), self._container()
        if kind and open_containers(self.desk.unit, kind):
            fields.append(
                Field("container", say("form.bath.container"), "choose", optional=True, options=self._containers)
            )
        if held is None and kind == "disinfectant":
            fields.append(Field("claim", say("form.bath.claim"), "choose", options=self._claims))
        elif held is None and kind == "detergent":
            fields.append(Field("title", say("form.bath.name"), "text", optional=True))
        fields.append(Field("label", say("form.bath.label"), "tag"))
        if held is None:
            fields += [
                Field("lot", say("form.bath.lot"), "tag"),
                Field("expires", say("form.bath.expires"), "date"),
                Field("opened", say("form.bath.opened"), "recent"),
            ]
        if self._asks_for_activation(held):
            fields.append(Field("activated", say("form.bath.activated"), "recent"))
        return fields

    def _asks_for_activation(self, held: Container | None) -> bool:
        name = held.claim if held is not None else self.values.get("claim", "")
        claim = claim_of(self.desk.unit, self.desk.door.shelf, name)
        begun = held.activated if held is not None else ""
        return self.values.get("kind") == "disinfectant" and claim is not None and claim.needs_activation and not begun

    def put(self, name: str, value: Any) -> None:
        if name == "kind" and not self.values.get("label"):
            self.values["label"] = free_label(self.desk.unit, value)
        super().put(name, value)

    def take_label(self, text: str) -> None:
        """A container's own label picks that container; any other label gives lot and expiry."""
        held = next((c for c in open_containers(self.desk.unit) if c.label.casefold() == text.casefold()), None)
        if held is None:
            super().take_label(text)
            return
        self.values["container"] = held.label
        self.put("kind", held.kind)

    def unfinished(self) -> bool:
        """Kind, label and container come by themselves; anything more was given by somebody."""
        return bool(self.values.keys() - {"kind", "label", "container"})

    def _containers(self) -> list[Option]:
        found = [container_option(c) for c in open_containers(self.desk.unit, self.values.get("kind", ""))]
        return [*found, Option("", say("container.none"), say("container.none_under"))]

    def _claims(self) -> list[Option]:
        return [claim_option(claim) for claim in claims_of(self.desk.unit, self.desk.door.shelf.claims).values()]

    def submit_words(self) -> str:
        return say("form.bath.add", label=self.values["label"])

    def submit(self) -> None:
        first = not self.desk.unit.baths
        # What was given for a kind or container that was then changed is not part of the bath.
        names = {field.name for field in self.fields()} - {"label", *(("kind",) if self._container() else ())}
        values = {name: value for name, value in self.values.items() if name in names and value}
        if self.shell.give("pour-bath", self.values["label"], values).done:
            self.finished("setup" if first else "setup-baths")


def bath_lines(bath: Bath, unit: Unit, now: Stamp) -> list[str]:
    """Promise a bath in a list: what it holds until when, and why it can't be used or that it must be tested."""
    wrong = unusable(bath, unit, now)
    if wrong is not None and not bath.withdrawn:
        return [
            bath_line(bath, unit.settings.zone),
            say("watch.blocked", why=refused(wrong)[0]),
        ]
    tested = bath.kind == "disinfectant" and bath.use == "manual" and wrong is None
    return [bath_line(bath, unit.settings.zone), *([say("watch.test_next")] if tested else [])]


def bath_line(bath: Bath, zone: str) -> str:
    """Promise a bath in one line of a list."""
    if bath.withdrawn:
        return say("setup.bath.withdrawn", why=bath.withdrawn)
    last = last_day(bath, zone)
    day = full_day_words(last[0]) if last else say("fact.unknown")
    return say("setup.bath.line", kind=say(f"kind.{bath.kind}"), lot=bath.lot, day=day)


def ask_bath(shell: Shell, label: str) -> None:
    """Ask what is to be done with a bath that stands: top it up, correct a misread strip, discard it."""
    unit = shell.desk.unit
    bath = unit.baths[label]
    fitting = [c for c in open_containers(unit, bath.kind) if c.claim == bath.claim]
    ways: dict[str, Callable[[], None]] = {
        "discard": lambda: ask_close(shell, label),
        "top": lambda: _ask_top_up(shell, bath, fitting),
    }
    options = [
        Option("discard", say("bath.discard")),
        Option("top", say("bath.top"), say("bath.top_under"), "" if fitting else say("bath.top_none")),
    ]
    if bath.failed:
        ways["misread"] = lambda: _ask_misread(shell, label)
        options.append(Option("misread", say("bath.misread"), say("bath.misread_under")))
    shell.over(ChoosePage(shell, say("bath.what", label=label), options, lambda key: ways[key]()))


def _ask_top_up(shell: Shell, bath: Bath, fitting: list[Container]) -> None:
    def give(container: str, activated: str = "") -> None:
        values = {"container": container, **({"activated": activated} if activated else {})}
        shell.give("top-up", bath.label, values)

    def chosen(label: str) -> None:
        if bath.needs_activation and not shell.desk.unit.containers[label].activated:
            words = say("form.bath.activated")
            shell.over(DatePage(shell, words, lambda day: give(label, day), recent=True))
        else:
            give(label)

    words = say("bath.top_from", label=bath.label)
    shell.over(ChoosePage(shell, words, [container_option(c) for c in fitting], chosen))


def _ask_misread(shell: Shell, label: str) -> None:
    values = {"what": "strip", "reason": say("bath.misread_reason")}
    sure = say("bath.misread_sure", label=label)
    shell.choose(Choice(say("bath.misread"), "correct", label, values, confirm=sure, lead=True))


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
