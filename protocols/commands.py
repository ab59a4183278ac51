"""Every command the door knows: what it is for, on what, and which values it takes.

One list serves the reading of replay lines, the door and the README's table. `check` looks at shape only (names,
types, ranges that hold everywhere); whether the command is allowed now is decided in `protocols.cycle` and
`protocols.register`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from protocols.clock import parse_date, parse_wall, zone
from protocols.errors import CommandFault
from protocols.event import Command
from protocols.model import WATER_GRADES

# Longest text anybody types on a handheld, and the longest protocol text (a loader limit too). Beyond is an accident.
TEXT_MAX = 200
TOML_MAX = 262_144
# Control characters and lone surrogates: no label or name has them.
_UNPRINTED = re.compile("[\x00-\x1f\x7f\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a command: its type, whether it must be there, its choices or range, and what it means."""

    type: str
    means: str
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Spec:
    """One command: on a "scope", a "bath", a "person", a "protocol" or the "unit"; `lead` if only leads may."""

    on: str
    means: str
    values: Mapping[str, Value]
    lead: bool = False


def _text(means: str, required: bool = False) -> Value:
    return Value("text", means, required)


def _choice(means: str, *choices: str, required: bool = True) -> Value:
    return Value("choice", means, required, choices)


def _number(means: str, low: float, high: float, required: bool = False) -> Value:
    return Value("number", means, required, (), low, high)


# Readable range of a bath thermometer: anything outside is a slip of the finger, not a bath.
_TEMP = _number("temperature of the bath, °C", 0, 99)
_BATH = _text("label of the bath")
_CONFIRMED = Value("bool", "stated as done (see the step's needs)")
_GIVEN = {
    "water": _choice("grade of the water used", *WATER_GRADES, required=False),
    "alcohol_pct": _number("strength of the alcohol, %", 0, 100),
    "owner": _text("who now answers for the scope"),
    "place": _text("where it hangs or lies"),
    "temp_c": _TEMP,
}
_NEEDS = dict.fromkeys(
    ("under", "filled", "parts", "cap", "pressurised", "vented", "fresh", "brush", "tag", "label", "ppe"), _CONFIRMED
)
_REASON = _text("why", True)

SPECS: dict[str, Spec] = {
    "set-unit": Spec("unit", "name the unit and its time zone", {
        "name": _text("name of the unit"), "zone": Value("zone", "IANA time zone"),
        "soon_s": _number("how long before a minimum the first prompt comes, s", 0, 3600),
        "very_late_s": _number("how long past a limit counts as very late, s", 1, 86_400)}, True),
    "add-person": Spec("person", "put a person on the list; the first one may be added by anybody", {
        "name": _text("name to show", True), "role": _choice("what the person may do", "technician", "lead")}, True),
    "add-scope": Spec("scope", "put a scope on the list", {
        "protocol": _text("id of the protocol its cycles follow", True), "model": _text("model"),
        "serial": _text("serial number"), "loaner": Value("bool", "on loan")}),
    "adopt-protocol": Spec("protocol", "take a protocol, or a new text of it, into use", {
        "toml": Value("toml", "its text; without it the shipped text of that id")}, True),
    "pour-bath": Spec("bath", "pour a bath of detergent or disinfectant", {
        "kind": _choice("what it is", "detergent", "disinfectant"), "claim": _text("claim id (disinfectant)"),
        "title": _text("what the label calls it, generic (detergent)"), "lot": _text("lot number", True),
        "expires": Value("date", "printed expiry date of the container", True),
        "opened": Value("date", "day the container was opened", True),
        "activated": Value("date", "day it was activated or diluted")}),
    "close-bath": Spec("bath", "discard a bath", {"reason": _REASON}),
    "strip-test": Spec("bath", "record what a test strip shows, for one scope in this bath", {
        "scope": _text("tag of the scope that is to lie in it", True), "result": _choice("by eye", "pass", "fail"),
        "strip_lot": _text("lot of the strip bottle", True), "test": _text("id of our own for this test")}),
    "receive": Spec("scope", "take a soiled scope in: the cycle starts", {
        "case": _text("case reference, never a patient's name", True),
        "procedure_date": Value("date", "date of the procedure", True),
        "procedure_type": _text("type of the procedure", True),
        "procedure_end": Value("time", "end of the procedure; left out when unknown"),
        "precleaned": _choice("pre-cleaned at the bedside", "yes", "no", "unknown"),
        "preclean_start": Value("time", "start of the pre-clean"), "preclean_end": Value("time", "its end"),
        "precleaned_by": _text("by whom"), "location": _text("where it was used"),
        "clinician": _text("who used it")}),
    "look": Spec("scope", "end a look step with one of its outcomes", {
        "outcome": _text("outcome word of the step", True), "bath": _BATH, **_GIVEN, **_NEEDS}),
    "pass": Spec("scope", "one brush pass: was debris seen on the brush", {
        "debris": _choice("what the brush brought out", "seen", "none"), **_NEEDS}),
    "count": Spec("scope", "one flush, rinse or purge of a counted step", {**_GIVEN, **_NEEDS}),
    "start": Spec("scope", "start a soak, the drying air or a machine run", {
        "bath": _BATH, "test": _text("strip test that covers this soak; without it the newest unused one"),
        "machine": _text("number of the machine"), "run": _text("its cycle number"), **_GIVEN, **_NEEDS}),
    "lift": Spec("scope", "lift the scope out of its soak", {
        "temp_c": _TEMP, "reason": _text("why it came out early: contact starts again from zero")}),
    "check": Spec("scope", "look whether it is dry while the air runs", {
        "dry": Value("bool", "no moisture seen", True)}),
    "read": Spec("scope", "record a cleaning-verification reading", {
        "method": _text("what was measured", True), "meter": _text("on which meter", True),
        "value": _number("the reading, in the limit's unit", 0, 10_000_000, True)}),
    "run-end": Spec("scope", "end a machine run", {
        "result": _choice("what the machine says", "complete", "failed", "interrupted")}),
    "skip": Spec("scope", "leave out an optional step", {"reason": _REASON}),
    "choose": Spec("scope", "choose disinfection by soak or by machine", {"by": _choice("which", "soak", "machine")}),
    "interrupt": Spec("scope", "a soak or run was interrupted: it never resumes", {"reason": _REASON}),
    "undo": Spec("scope", "take back the last tap, within 10 s and where that is safe", {}),
    "note": Spec("scope", "something is wrong, or worth keeping; changes nothing else", {
        "what": _choice("about what", "leak", "damage", "spill", "late", "other"), "text": _text("in words", True)}),
    "out-of-service": Spec("scope", "take the scope out of service: its cycle ends", {
        "reason": _REASON, "owner": _text("who now answers for it", True)}),
    "decide": Spec("scope", "a lead decides, by the IFU, how a waiting scope goes on", {
        "decision": _choice("what follows", "continue", "clean-again", "disinfect-again", "out-of-service"),
        "reason": _REASON, "soak_s_max": _number("maximum of the extended soak, s", 60, 172_800)}, True),
    "correct": Spec("any", "a lead corrects a leak result, a strip result, or returns a scope to service", {
        "what": _choice("what was wrong", "leak", "strip", "service"), "reason": _REASON}, True),
    "void": Spec("scope", "a lead voids a cycle; the record keeps it", {"reason": _REASON}, True),
    "release": Spec("scope", "a named person releases the scope for use; the app never does", {
        "place": _text("where it goes")}),
}  # fmt: skip


def _is_number(value: Any) -> bool:
    if isinstance(value, int):  # of any length; too long a one can't even be asked whether it is finite
        return not isinstance(value, bool) and abs(value) < 2**53
    return isinstance(value, float) and math.isfinite(value)


def _is_text(value: Any, longest: int = TEXT_MAX) -> bool:
    return isinstance(value, str) and len(value.strip()) > 0 and len(value) <= longest


def _parses(reader: Callable[[str], object]) -> Callable[[Any], bool]:
    def test(value: Any) -> bool:
        try:
            reader(value)
        except (CommandFault, TypeError):
            return False
        return True

    return test


_TESTS: dict[str, tuple[Callable[[Any], bool], str]] = {
    "text": (_is_text, f"text of 1 to {TEXT_MAX} characters"),
    "toml": (lambda v: _is_text(v, TOML_MAX), f"TOML text of at most {TOML_MAX} characters"),
    "choice": (lambda v: isinstance(v, str), "one of the choices"),
    "number": (_is_number, "a number"),
    "bool": (lambda v: isinstance(v, bool), "true or false"),
    "date": (_parses(parse_date), "a date like 2026-11-25"),
    "time": (_parses(parse_wall), "a time like 2026-11-25T10:42:00+01:00"),
    "zone": (_parses(zone), "an IANA time zone such as Europe/Berlin"),
}


def _fault(do: str, name: str, value: Any, wanted: str) -> CommandFault:
    return CommandFault(f"{do}: {name} is {_shown(value)}, it must be {wanted}")


def _shown(value: Any) -> str:
    if isinstance(value, int) and abs(value) > 10**60:
        return "a number of more than 60 digits"
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."


def _check_value(do: str, name: str, spec: Value, value: Any) -> None:
    test, wanted = _TESTS[spec.type]
    if not test(value):
        raise _fault(do, name, value, wanted)
    if spec.choices and value not in spec.choices:
        raise _fault(do, name, value, "one of " + ", ".join(spec.choices))
    if spec.low is not None and spec.high is not None and not spec.low <= value <= spec.high:
        raise _fault(do, name, value, f"from {spec.low:g} to {spec.high:g}")
    if spec.type == "text":
        check_text(f"{do}: {name}", value)


def check_text(what: str, text: str) -> None:
    """Raise CommandFault for control characters or lone surrogates, which no label or name has."""
    if _UNPRINTED.search(text):
        raise CommandFault(f"{what} holds a control character; type or scan it again")


def check(command: Command) -> None:
    """Raise CommandFault unless the command's name, subject and values have the right shape."""
    spec = SPECS.get(command.do) if isinstance(command.do, str) else None
    if spec is None:
        raise CommandFault(f"no command is called {_shown(command.do)}; known: {', '.join(SPECS)}")
    for what, text in (("subject", command.subject), ("by", command.by)):
        if not _is_text(text, 80) or text != text.strip():
            raise _fault(command.do, what, text, "text of 1 to 80 characters without spaces around it")
        check_text(f"{command.do}: {what}", text)
    values = command.values
    if not isinstance(values, Mapping):
        raise _fault(command.do, "values", values, "an object of named values")
    for name, value in values.items():
        if name not in spec.values:
            known = ", ".join(spec.values) or "none"
            raise CommandFault(f"{command.do} takes no value {name!r}; it takes: {known}")
        _check_value(command.do, name, spec.values[name], value)
    missing = [name for name, one in spec.values.items() if one.required and name not in values]
    if missing:
        raise CommandFault(f"{command.do} lacks {', '.join(missing)}; give it")
