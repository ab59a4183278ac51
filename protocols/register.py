"""decide for the unit's lists: people, scopes and protocols here, solutions, strips and choices in their own files."""

from __future__ import annotations

from collections.abc import Callable

from protocols import (
    choosing,
    containers,
    handover,
    people,
    retention,
    shifts,
    signin,
    solutions,
    strip_tests,
    strips,
    unconfirmed,
    upkeep,
)  # fmt: skip
from protocols.claims import claims_of
from protocols.clock import parse_date
from protocols.context import Context
from protocols.errors import ProtocolFault
from protocols.event import Decision
from protocols.reasons import aside
from protocols.refusals import Refusal, refuse
from protocols.rules import claim_findings


def set_unit(ctx: Context) -> Decision | Refusal:
    """Change the unit's own settings; those not given stay."""
    settings = {**ctx.unit.settings._asdict(), **ctx.command.values}
    if settings == ctx.unit.settings._asdict():
        return refuse("no-change")
    if settings["pins_required"] and not any(p.pin for p in people.administrators(ctx.unit)):
        # Else nobody could sign in any more to set the first PIN.
        return refuse("pins-without-one")
    return Decision("set-unit", ctx.subject, {}, {"settings": settings})


def add_scope(ctx: Context) -> Decision | Refusal:
    """Put a scope on the list, with an adopted protocol."""
    if ctx.subject in ctx.unit.scopes:
        return refuse("scope-known", subject=ctx.subject)
    if ctx.get("protocol") not in ctx.unit.protocols:
        known = ", ".join(ctx.unit.protocols) or aside("none-adopted")
        return refuse("unknown-protocol", protocol=ctx.get("protocol"), known=known)
    label = containers.scanned(ctx)
    if isinstance(label, Refusal):
        return label
    scope = {name: value for name, value in ctx.command.values.items() if name != "scan"}
    serial = label.serial or label.giai or label.text
    if serial and scope.setdefault("serial", serial) != serial:
        return refuse("label-contradicts", name="serial", typed=scope["serial"], scanned=serial)
    first, last = scope.get("loaned_from"), scope.get("loaned_until")
    if first is not None and last is not None and parse_date(first) > parse_date(last):
        return refuse("date-order", first="loaned_from", a=first, second="loaned_until", b=last)
    if first is not None or last is not None:
        scope["loaner"] = True
    return Decision("add-scope", ctx.subject, {"scope": ctx.subject}, {"scope": scope})


def adopt_protocol(ctx: Context) -> Decision | Refusal:
    """Take a protocol text into use; one with faults is never run. Cycles under way keep the text they began with."""
    text = ctx.get("toml")
    if text is None:
        sha = ctx.shelf.shipped.get(ctx.subject)
        if sha is None:
            return refuse("unknown-protocol", protocol=ctx.subject, known=", ".join(ctx.shelf.shipped))
        protocol = ctx.shelf.protocol(sha)
    else:
        try:
            protocol = ctx.shelf.read(text, f"{ctx.subject}.toml")
        except ProtocolFault as fault:
            return refuse("protocol-fault", faults="; ".join(str(f) for f in fault.findings[:5]))
    if protocol.id != ctx.subject:
        return refuse("protocol-id", found=protocol.id, subject=ctx.subject)
    findings = claim_findings(protocol, claims_of(ctx.unit, ctx.shelf.claims), f"{ctx.subject}.toml")
    if findings:
        return refuse("protocol-fault", faults="; ".join(str(f) for f in findings[:5]))
    if ctx.unit.protocols.get(ctx.subject) == protocol.text_sha256:
        return refuse("no-change")
    data = {"text_sha256": protocol.text_sha256, "title": protocol.title, "version": protocol.version}
    return Decision("adopt-protocol", ctx.subject, {}, data)


HANDLERS: dict[str, Callable[[Context], Decision | Refusal]] = {
    "set-unit": set_unit, "add-person": people.add_person, "retire-person": people.retire_person,
    "set-badge": people.set_badge, "set-pin": people.set_pin, "sign-in": signin.sign_in,
    "confirm-acts": unconfirmed.confirm_acts, "add-scope": add_scope, "adopt-protocol": adopt_protocol,
    "register-container": containers.register_container, "close-container": containers.close_container,
    "pour-bath": solutions.pour_bath, "top-up": solutions.top_up, "close-bath": solutions.close_bath,
    "register-strips": strips.register_strips, "strip-control": strips.strip_control,
    "close-strips": strips.close_strips, "dip-strip": strip_tests.dip_strip, "strip-test": strip_tests.strip_test,
    "choose-limits": choosing.choose_limits,
    "confirm-claim": choosing.confirm_claim, "pair-handheld": handover.pair_handheld,
    "hand-shift": shifts.hand_shift, "acknowledge": shifts.acknowledge,
    "record-competency": upkeep.record_competency, "record-filter": upkeep.record_filter,
    "record-culture": upkeep.record_culture, "purge": retention.purge,
}  # fmt: skip
