"""Every command the door knows: what it is for, on what, and which values it takes.

One list serves the reading of replay lines, the door and the README's table. `check` looks at shape only (names,
types, ranges that hold everywhere); whether the command is allowed now is decided in `protocols.cycle` and
`protocols.register`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from protocols.commands_between import SPECS_BETWEEN
from protocols.errors import CommandFault
from protocols.event import Command
from protocols.model import WATER_GRADES
from protocols.reasons import aside
from protocols.spec import Spec as Spec
from protocols.spec import Value as Value
from protocols.spec import among as _among
from protocols.spec import choice as _choice
from protocols.spec import number as _number
from protocols.spec import text as _text
from protocols.spec import whole as _whole
from protocols.value_types import TYPES, is_text

# Control characters and lone surrogates: no label or name has them.
_UNPRINTED = re.compile("[\x00-\x1f\x7f\ud800-\udfff]")

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
_SCAN = Value("scan", "the label as the scanner sent it (GS1): lot and expiry are read from it")
_SOLUTION = {
    "kind": _choice("what it is", "detergent", "disinfectant", required=False),
    "claim": _text("claim id (disinfectant)"),
    "title": _text("what the label calls it, generic (detergent)"),
    "lot": _text("lot number"),
    "expires": Value("date", "printed expiry date of the container"),
    "opened": Value("date", "day the container was opened"),
    "activated": Value("date", "day it was activated or diluted"),
}

SPECS: dict[str, Spec] = {
    "set-unit": Spec("unit", "name the unit and its time zone", {
        "name": _text("name of the unit"), "zone": Value("zone", "IANA time zone"),
        "soon_s": _number("how long before a minimum the first prompt comes, s", 0, 3600),
        "very_late_s": _number("how long past a limit counts as very late, s", 1, 86_400),
        "strip_register": Value("bool", "only strips of a registered bottle cover a soak"),
        "pins_required": Value("bool", "nobody signs in without a PIN"),
        "hands": _among("people who work at once, for planning", 1, 20),
        "clean_hands": _among("people of the clean side's own, for planning; 0: the same people do both", 0, 20),
        "change_s": _number("gloves, apron and hand hygiene from the dirty to the clean side, s", 0, 1800),
        "sinks": _among("cleaning sinks, for planning", 1, 50), "ports": _among("drying ports, for planning", 1, 50),
        "bath_holds": _among("scopes that one disinfectant bath holds, for planning", 1, 20),
        "lock_after_s": _number("idle time after which whoever is signed in is signed out, s; 0: never", 0, 86_400),
        "keep_weeks": _among("weeks besides the running one that stay on the handheld; 0: all stay", 0, 5200),
        "case_pattern": Value("pattern", "form of a case reference: 9 a digit, A a letter, the rest as it stands")},
        True, True),
    "add-person": Spec("person", "put a person on the list; the first one may be added by anybody", {
        "name": _text("name to show", True),
        "role": _choice("what the person may do", "technician", "lead", "administrator")}, True, True),
    "retire-person": Spec("person", "take a person off the list; the record keeps what they did", {
        "reason": _REASON}, True, True),
    "set-badge": Spec("person", "give a person the badge whose scan names them", {
        "badge": _text("what the scanner reads from the badge", True)}, True, True),
    "set-pin": Spec("person", "keep the salted hash of a PIN: one's own, or anybody's by an administrator", {
        "salt": Value("hex", "its salt", True), "hash": Value("hex", "scrypt hash of the PIN (RFC 7914)", True),
        "n": Value("whole", "cost N of the hash, a power of two", True, (), 16_384, 131_072),
        "r": Value("whole", "its block size r", True, (), 8, 16),
        "p": Value("whole", "its parallelisation p", True, (), 1, 4)}),
    "sign-in": Spec("person", "take the hash of a typed PIN: right it is a sign-in, wrong it is a pin-wrong event", {
        "hash": Value("hex", "scrypt hash of what was typed, with the person's salt", True)}, open=True),
    "confirm-acts": Spec("acts", "stand for what was done to a scope while nobody was signed in", {}),
    "add-scope": Spec("scope", "put a scope on the list", {
        "protocol": _text("id of the protocol its cycles follow", True), "model": _text("model"),
        "serial": _text("serial number"), "loaner": Value("bool", "on loan"), "scan": _SCAN,
        "channels": _text("which channels it has, where its family leaves it open"),
        "loaned_from": Value("date", "first day of the loan"), "loaned_until": Value("date", "last day of the loan")}),
    "adopt-protocol": Spec("protocol", "take a protocol, or a new text of it, into use", {
        "toml": Value("toml", "its text; without it the shipped text of that id")}, True),
    "register-container": Spec("container", "register a container of solution as it is opened", {
        **_SOLUTION, "scan": _SCAN}),
    "close-container": Spec("container", "discard a container", {"reason": _REASON}),
    "pour-bath": Spec("bath", "pour a bath of detergent or disinfectant, from a container or with its dates", {
        "container": _text("label of the registered container: takes over its dates"), **_SOLUTION}),
    "top-up": Spec("bath", "add solution to a bath: its life stays, and strips dipped before cover nothing", {
        "container": _text("label of the registered container"),
        **{name: _SOLUTION[name] for name in ("lot", "expires", "opened", "activated")}}),
    "close-bath": Spec("bath", "discard a bath; a disinfectant still usable only a lead, from others it is out of use "
                       "until one does", {"reason": _REASON}),
    "register-strips": Spec("strips", "register a bottle of test strips as it is opened", {
        "type": _text("what its strips show, as the claim names it (OPA 0.3 %)", True),
        "lot": _text("lot number; without it the label"), "expires": Value("date", "printed expiry date"),
        "opened": Value("date", "day the bottle was opened", True),
        "opened_d": _number("life of the open bottle, days", 1, 3660), "dip_s": _number("time in the bath, s", 0, 600),
        "read_s_from": _number("earliest reading after the dip, s", 0, 3600),
        "read_s_to": _number("latest reading after the dip, s", 0, 3600), "scan": _SCAN}),
    "strip-control": Spec("strips", "record the control of a new strip lot", {
        "positive": _whole("strips on full-strength solution that passed"),
        "negative": _whole("strips on weakened solution that failed"),
        "wrong": _whole("strips that showed the opposite", False)}),
    "close-strips": Spec("strips", "discard a bottle of strips", {"reason": _REASON}),
    "dip-strip": Spec("bath", "record that a test strip was dipped in this bath: its reading is timed from here", {
        "scope": _text("tag of the scope that is to lie in it", True),
        "strip_lot": _text("label of the strip bottle", True)}),
    "strip-test": Spec("bath", "record what a test strip shows, for one scope in this bath", {
        "scope": _text("tag of the scope that is to lie in it", True), "result": _choice("by eye", "pass", "fail"),
        "strip_lot": _text("label of the strip bottle", True), "test": _text("id of our own for this test"),
        "read_after_s": _number("seconds from a dip that was not recorded to reading; outside its window it is void", 0,
                                86_400)}),
    "choose-limits": Spec("limits", "choose a limit set for the unit, having seen how the sources disagree", {
        "seen": Value("bool", "the disagreement of the sources has been read"),
        "storage_d": _number("days of storage that the unit's assessment came to", 0.1, 366),
        "drop": Value("bool", "go back to the protocol's own figures")}, True),
    "confirm-claim": Spec("claim", "confirm a chemistry claim by the label in hand, its figures typed anew", {
        "label": _text("which label was read: product kind, revision or date", True),
        "by_hand": Value("bool", "the label allows a manual soak"),
        "contact_s": _number("contact time, s", 30, 172_800), "temp_c": _number("lowest temperature, °C", 0, 60),
        "temp_c_most": _number("highest temperature, °C", 0, 60), "reuse_d": _number("reuse life, days", 1, 366),
        "opened_d": _number("life of the open container, days", 1, 3660),
        "mec_pct": _number("minimum effective concentration, %", 0, 100),
        "single_use": Value("bool", "for one scope only"),
        "needs_activation": Value("bool", "must be activated"), "strip_type": _text("kind of strip it names"),
        "strip_dip_s": _number("strip in the bath, s", 0, 600),
        "strip_read_s_from": _number("earliest reading of a strip, s", 0, 3600),
        "strip_read_s_to": _number("latest reading of a strip, s", 0, 3600),
        "rinse_times": _whole("rinses after it", False), "rinse_s": _number("shortest time of each, s", 1, 3600)},
        True),
    "purge": Spec("week", "take the oldest exported week off the handheld; given by the app itself, no replay line", {
        "first_seq": Value("whole", "its first line", True, (), 1, 2**53),
        "last_seq": Value("whole", "its last line", True, (), 1, 2**53),
        "head": Value("hex", "hash of its last line", True), "stub": Value("hex", "SHA-256 of the stub left", True),
        "manifest": Value("hex", "SHA-256 of its export's manifest", True),
        "to": _text("where its export lies", True)}, True),
    "receive": Spec("scope", "take a soiled scope in: the cycle starts", {
        "case": _text("case reference, never a patient's name; with date, type and pre-clean unless `again` is given"),
        "procedure_date": Value("date", "date of the procedure"),
        "procedure_type": _text("type of the procedure"),
        "procedure_end": Value("time", "end of the procedure; left out when unknown"),
        "precleaned": _choice("pre-cleaned at the bedside", "yes", "no", "unknown", required=False),
        "again": _choice("reprocessed without a case: what for; never for a scope that was used",
                         "storage", "repair", "hold", "new", "other", required=False),
        "preclean_start": Value("time", "start of the pre-clean"), "preclean_end": Value("time", "its end"),
        "wanted_by": Value("time", "when it is wanted ready again"),
        "advice": _text("the planner's warning that was on the screen"),
        "precleaned_by": _text("by whom"), "location": _text("where it was used"),
        "clinician": _text("who used it")}),
    "look": Spec("scope", "end a look step with one of its outcomes", {
        "outcome": _text("outcome word of the step", True), "bath": _BATH, **_GIVEN, **_NEEDS}),
    "pass": Spec("scope", "one brush pass: was debris seen on the brush", {
        "debris": _choice("what the brush brought out", "seen", "none"), **_NEEDS}),
    "count": Spec("scope", "one flush, rinse or purge of a counted step", {**_GIVEN, **_NEEDS}),
    "start": Spec("scope", "start a soak, the drying air or a machine run", {
        "bath": _BATH, "test": _text("strip test that covers this soak; without it the newest unused one"),
        "machine": _text("number of the machine"), "run": _text("its cycle number"),
        "air_psi": _number("pressure of the drying air, psi", 0, 200), **_GIVEN, **_NEEDS}),
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
    "decide": Spec("scope", "a lead decides, by the IFU, about a scope that waits in its cycle or is held after it", {
        "decision": _choice("what follows (keep and reprocess: after its cycle)", "continue", "clean-again",
                            "disinfect-again", "out-of-service", "keep", "reprocess"),
        "reason": _REASON, "soak_s_max": _number("maximum of the extended soak, s", 60, 172_800)}, True),
    "correct": Spec("any", "a lead corrects a leak result, a strip result or an issue, or returns a scope to service", {
        "what": _choice("what was wrong", "leak", "strip", "service", "issue"), "reason": _REASON}, True),
    "void": Spec("scope", "a lead voids a cycle; the record keeps it", {"reason": _REASON}, True),
    "release": Spec("scope", "a named person releases the scope for use; the app never does", {
        "place": _text("where it goes")}),
    **SPECS_BETWEEN,
}  # fmt: skip


def _fault(do: str, name: str, value: Any, wanted: str) -> CommandFault:
    return CommandFault(aside("shape", do=do, name=name, value=_shown(value), wanted=wanted))


def _shown(value: Any) -> str:
    if isinstance(value, int) and abs(value) > 10**60:
        return "a number of more than 60 digits"
    text = repr(value)
    return text if len(text) <= 80 else text[:77] + "..."


def check_value(do: str, name: str, spec: Value, value: Any) -> None:
    """Raise CommandFault unless one value of a command has the right shape."""
    test, wanted = TYPES[spec.type]
    if not test(value):
        raise _fault(do, name, value, wanted)
    if spec.choices and value not in spec.choices:
        raise _fault(do, name, value, "one of " + ", ".join(spec.choices))
    if spec.low is not None and spec.high is not None and not spec.low <= value <= spec.high:
        low, high = f"{spec.low:g}", f"{spec.high:g}"
        raise CommandFault(aside("shape-range", do=do, name=name, value=_shown(value), low=low, high=high))
    if spec.type == "text":
        check_text(do, name, value)


def check_text(do: str, name: str, text: str) -> None:
    """Raise CommandFault for control characters or lone surrogates, which no label or name has."""
    if _UNPRINTED.search(text):
        raise CommandFault(aside("shape-text", do=do, name=name))


def check(command: Command) -> None:
    """Raise CommandFault unless the command's name, subject and values have the right shape."""
    spec = SPECS.get(command.do) if isinstance(command.do, str) else None
    if spec is None:
        near = get_close_matches(command.do, SPECS) if isinstance(command.do, str) else []
        like = f"; is it {' or '.join(near)}?" if near else "; the README lists them all"
        raise CommandFault(f"no command is called {_shown(command.do)}{like}")
    for what, text in (("subject", command.subject), ("by", command.by)):
        if not is_text(text, 80) or text != text.strip():
            raise _fault(command.do, what, text, "text of 1 to 80 characters without spaces around it")
        check_text(command.do, what, text)
    values = command.values
    if not isinstance(values, Mapping):
        raise _fault(command.do, "values", values, "an object of named values")
    for name, value in values.items():
        if name not in spec.values:
            known = ", ".join(spec.values) or "none"
            raise CommandFault(f"{command.do} takes no value {name!r}; it takes: {known}")
        check_value(command.do, name, spec.values[name], value)
    missing = [name for name, one in spec.values.items() if one.required and name not in values]
    if missing:
        raise CommandFault(f"{command.do} lacks {', '.join(missing)}; give it")
