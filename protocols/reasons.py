"""Reasons, notices and asides of the engine, worded once: templates by key, so that a screen can say them otherwise.

What the record keeps of them (`KEPT`) stands there in these words for ever, and is known again by them: a template that
stands here may gain a sibling but is never changed. `ASIDES` only ever fill in a refusal or an error of the disk, and
never reach the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from protocols.errors import Defect

KEPT: dict[str, str] = {
    # why a scope is held
    "late-lift": "lifted from {bath} {over} past its limit of {limit}",
    "unproven-lift": "lifted from {bath} with {done} of {needed} proven, perhaps past its limit",
    "no-branch": "delayed, and the protocol has no extended soak",
    "no-maximum": "no maximum for {step} in the protocol",
    "strip-after": "{bath} failed a strip test at {at} after the scope lay in it",
    "strip-while": "{bath} failed a strip test while the scope lay in it",
    "discarded": "{bath} was discarded before contact was complete",
    # faults
    "leak-failed": "leak test failed",
    "culture": "culture {reference}",
    "return-failed": "{why}; on return leak test {leak}, inspection {looked}",
    # what ends the life of a solution or of strips
    "printed": "the printed expiry",
    "opened": "the opened container's life",
    "reuse": "the reuse life",
    "open-bottle": "the life of the open bottle",
    # why something is closed
    "control-failed": "failed its control",
    # notices
    "was-held": "held: {why}; a completed cycle resolves it",
    "in-quarantine": "in quarantine: {why}; no cycle ends that",
    "went-elsewhere": "its last cycle was handed over to another handheld",
    "delayed": "delayed branch: {why}",
    "earlier-end": "the procedure was told to have ended at {at}: the earlier time holds",
    "short-clean": "manual clean took {time}, {limit} or less: look again",
    "too-cold": "{temp} °C at lift is below {least} °C: contact starts again from zero",
    "read-outside": "read after {after} s, outside {first} to {last} s: void, dip a new strip",
    "read-early": "read after {after} s, outside {first} s and later: void, dip a new strip",
    "report-there": "{scope} lay in {bath} and is with another handheld: report the fault there",
    "covered": "soaks covered by strips of lot {lot} are in doubt: trace --lot {lot}",
    "topped-up": "strips dipped before the topping up cover nothing: dip a new one for each scope",
    "withdrawn": "{bath} is out of use from now on; a lead looks at it and closes it",
    "clock-behind": "the clock here is behind that of {device}: every running limit counts as passed",
    "not-issued": "{scope} was not issued to this case on this handheld",
    "whole-cycle": "{scope} goes through a whole cycle before it can be issued",
    "stays": "{scope} stays in quarantine",
    "action-level": "{scope} is in quarantine: culture at the action level",
    "growth": "growth below the action level on {scope}: the unit's policy says what follows",
    # why a scope takes the delayed branch
    "preclean": "pre-clean at the bedside: {done}",
    "end-unknown": "end of the procedure unknown",
    "origin-unknown": "{origin} unknown",
}

ASIDES: dict[str, str] = {
    "none": "none",
    "none-adopted": "none adopted yet",
    "none-pour": "none (pour one)",
    "nothing-more": "nothing more",
    "its-soak": "its soak",
    "another-cycle": "another scope's cycle",
    "machine-and-run": "machine and run",
    # where a scope is, and why
    "with": "with {repairer}: {why}",
    "fault": "{kind}: {why}",
    "issued": "issued to case {case}",
    "case-ended": "case {case} has ended",
    "outcome": "{outcome}",
    "last-cycle": "its last cycle is {outcome}",
    "no-completed": "it has no completed cycle",
    "place": "it is {place} ({why})",
    "hung": "hung {time}, limit {limit}: reprocess it",
    "not-dried": "it was not dried",
    "not-disinfected": "it was not disinfected",
    "act": "{scope}: {do}",
    # what a step expects instead
    "expect-look": "give look with its outcome",
    "expect-pass": "give pass with debris seen or none",
    "expect-count": "give count",
    "expect-rinse": "start the first rinse",
    "expect-reading": "give read, or skip it if it is optional",
    "expect-soak": "start the soak",
    "expect-lift": "lift it out first",
    "expect-air": "start the air",
    "expect-dry": "check whether it is dry",
    "expect-run": "start the machine run",
    "expect-run-end": "end the run",
    "expect-lead": "a lead decides",
    "expect-receive": "receive the scope",
    "expect-there": "go on at the handheld that takes it over",
    # why the way of disinfection stays
    "chosen": "that is already chosen",
    "no-such-way": "the protocol has no such step",
    "leaks": "it leaks: no disinfection follows",
    "begun": "disinfection has begun; go on as it is",
    # why a command has the wrong shape
    "shape": "{do}: {name} is {value}, it must be {wanted}",
    "shape-range": "{do}: {name} is {value}, it must be from {low} to {high}",
    "shape-text": "{do}: {name} holds a control character; type or scan it again",
    "pin-digits": "the PIN must have {low} to {high} digits; type another",
    "pin-same": "the PIN is one digit over and over; type another",
    # why a label can't be read
    "label-length": "a label of {count} characters; scan it again, or type it",
    "label-kind": "a barcode of kind {mark!r} holds no GS1 label; type what is printed on it",
    "label-control": "the label holds a control character that is no separator; scan it again, or type it",
    "label-other": "this is a label of another coding system, not GS1; type what is printed on it",
    "label-bracket": "{text!r} does not start with a bracket; type it as printed",
    "label-goes-on": "the label goes on with {text!r}, which is none of {elements}; type it",
    "label-unsure": "the {name} can't be told from what follows it: {value!r} may be {one!r} and {rest!r}, for the "
    "scanner sent no separators; let it send them (ASCII 29), or type the label",
    "label-element": "the label holds ({ai}), which is none of {elements}; type it",
    "label-form": "({ai}) {name} is {value!r}, which is not of its form; scan it again, or type it",
    "label-check": "({ai}) {value}: the check digit does not fit; scan it again",
    "label-twice": "({ai}) {name} stands there twice and differs; type the label",
    "label-nothing": "the label holds nothing that is used here; type what is printed on it",
    "label-date": "({ai}) {value} is no date; scan it again, or type it",
    # why a week is still needed
    "week-cycle": "{scope} is still in a cycle that began by then; finish or void it",
    "week-unsigned": "nobody has signed an act on {scope}; somebody confirms it",
    "week-bath": "a failing strip of bath {bath} would hold scopes of that week; test it or discard it",
    "week-held": "{scope} is held ({why}); a lead decides about it",
    "week-case": "{scope} is out on a case since then; receive it",
    "week-stored": "{scope} hangs ready in storage since then; issue it, reprocess it or void its cycle",
    # why a dilution makes no sense
    "dilute-outside": "a strength of {text!r} is outside 0 to 100 %; check number and unit",
    "dilute-stronger": "the target ({wanted} %) is stronger than the stock ({stock} %); no water makes it stronger: "
    "check which is which",
    # what the disk could not do, and what helps
    "disk-failed": "{doing} failed ({cause}); {remedy}",
    "disk-reading": "reading {path}",
    "disk-measuring": "measuring {path}",
    "disk-listing": "listing {path}",
    "disk-writing": "writing {path}",
    "disk-appending": "appending to {path}",
    "disk-cutting": "cutting {path}",
    "disk-removing": "removing {path}",
    "disk-opening": "opening {path}",
    "disk-locking": "locking {path}",
    "disk-unsure": "{path} could not be restored after a failed write; nothing more is recorded until Basinbell is "
    "closed and opened again",
    "disk-unrestored": "appending to {path} failed ({cause}) and the file could not be restored ({again}); whether the "
    "last entry is recorded shows when Basinbell is closed and opened again",
    "disk-full": "free space on the handheld, then do it again",
    "disk-read-only": "the storage is read-only; restart the handheld, and export the record if it stays so",
    "disk-rights": "make the home folder readable and writable for this app",
    "disk-worn": "the storage may be failing; do it again, and export the record to another device now",
    "disk-incomplete": "check that the home folder is complete",
    "disk-again": "do it again, and restart the handheld if it stays so",
}

WORDS: dict[str, str] = {**KEPT, **ASIDES}


class Aside(str):
    """A text of ASIDES with its values filled in, which still knows its key and them."""

    __slots__ = ("key", "values")
    key: str
    values: Mapping[str, Any]


def kept(key: str, **values: Any) -> str:
    """Promise a text for the record with its values filled in. Raises Defect for a key without words."""
    if key not in KEPT:
        raise Defect(f"no words for the reason {key!r}")
    return KEPT[key].format(**values)


def aside(key: str, **values: Any) -> Aside:
    """Promise a text that fills in a refusal or an error. Raises Defect for a key without words."""
    if key not in ASIDES:
        raise Defect(f"no words for the aside {key!r}")
    text = Aside(ASIDES[key].format(**values))
    text.key, text.values = key, values
    return text
