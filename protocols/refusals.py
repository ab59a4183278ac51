"""Every reason the door can give for refusing a command, worded once: what happened, with which values, what to do.

A refusal is an answer, not an error: nothing has changed and nothing is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from protocols.errors import Defect
from protocols.refusals_between import WORDS_BETWEEN


@dataclass(frozen=True, slots=True)
class Refusal:
    """No, why, and what to do instead. `key` is stable and names the rule.

    `values` are what the words were filled in with, so that a screen can say the same in another language.
    """

    key: str
    why: str
    remedy: str
    values: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)

    def __str__(self) -> str:
        return f"{self.why}; {self.remedy}"


WORDS: dict[str, tuple[str, str]] = {
    # the record
    "read-only": (
        "the record is only shown, no command is taken",
        "the page Damage says what is wrong, and what to do",
    ),
    # who
    "unknown-person": ("{by!r} is not on the unit's list of people", "sign in as yourself or ask a lead to add you"),
    "lead-only": ("{do} needs a lead, {by!r} is a {role}", "call a lead"),
    "administrator-only": ("{do} needs an administrator, {by!r} is a {role}", "call an administrator"),
    "first-lead": (
        "{subject!r} would be the first person, as a {role}",
        "make the first person an administrator: a technician can't add others",
    ),
    "not-signed-in": (
        "{do} needs somebody who is signed in",
        "sign in; lift, rinse, interrupt and out-of-service are taken without",
    ),
    "sign-in-by": ("a sign-in is given by {by!r}", "give it by 'unconfirmed': nobody is signed in before the PIN fits"),
    "no-pin": ("{subject!r} has no PIN", "choose the name where the unit needs no PIN, else an administrator sets one"),
    "pin-wait": ("{wrong} wrong PINs for {subject!r}, the next is taken in {left}", "wait, or call an administrator"),
    "nothing-to-confirm": ("{subject} has no unconfirmed acts", "check the tag"),
    # stale or doubled
    "doubled": (
        "{do} for {subject} was given twice within {within} s",
        "the first one counts; look before tapping again",
    ),
    "stale-view": (
        "{subject} has moved on since that screen was drawn (event {seen}, now {last})",
        "look again and choose",
    ),
    # scopes and cycles
    "unknown-scope": ("no scope has the tag {subject!r}", "check the tag, or add the scope first"),
    "scope-known": ("a scope with the tag {subject!r} is already there", "use another tag"),
    "in-cycle": ("{subject} is already in a cycle, at step {step!r}", "finish or void that cycle first"),
    "no-cycle": ("{subject} is not in a cycle", "receive the scope first"),
    "other-step": ("{subject} is at step {step!r} ({says}), which is a {kind}; {do} does not fit", "{expects}"),
    "in-soak": ("{subject} is still in {bath}", "lift it out first, or say that the soak was interrupted"),
    "run-on": ("{subject} is in a machine run", "end the run first"),
    "not-running": ("{subject} is not in a soak or run at step {step!r}", "{expects}"),
    "wait-lead": ("{subject} waits for a lead: {why}", "a lead decides what follows by the IFU (decide)"),
    "unproven": ("{subject}: {why}; it can't be continued", "decide clean-again, disinfect-again or out-of-service"),
    "not-reached": (
        "{subject} is at step {step!r}; {decision} would leave out everything up to {target!r}",
        "decide continue, clean-again or out-of-service",
    ),
    "unfinished": ("{subject} can't end here: {why}", "a lead voids the cycle or takes the scope out of service"),
    "not-waiting": ("{subject} does not wait for a lead", "nothing to decide; void the cycle if it must end"),
    "out-of-service": ("{subject} is out of service since its last cycle ({why})", "a lead corrects or returns it"),
    "case-form": (
        "the case reference does not have the unit's form {form}",
        "look at the case sheet (9 a digit, A a letter); a name is never typed here",
    ),
    "future": ("{name} {value} is later than now ({now})", "check the case sheet or label, and the handheld's clock"),
    "order": ("{first} {a} is later than {second} {b}", "check both times on the case sheet"),
    "unknown-outcome": ("{word!r} is not an outcome of step {step!r}", "choose one of: {words}"),
    "needs": ("not confirmed: {missing}", "do it, then confirm it in the same command"),
    "needs-record": ("step {step!r} must record {missing}", "give it in the same command"),
    "water-grade": ("{value!r} is not a water grade", "choose one of: {grades}"),
    "alcohol": ("{value} % alcohol is outside {low} to {high} %", "use alcohol inside that range"),
    "too-soon": ("{subject}: {done} of {needed} proven, {left} to go", "wait, then confirm"),
    "not-optional": ("step {step!r} can't be skipped", "do it, or take the scope out of service"),
    "no-choice": ("{subject} can't change to disinfection by {way}", "{expects}"),
    "unknown-method": ("step {step!r} has no limit for {method!r} on meter {meter!r}", "choose one of: {known}"),
    # soaks
    "no-bath-named": ("step {step!r} lies in {kind}, no bath is named", "name the bath"),
    "unknown-bath": ("no bath is labelled {bath!r}", "use one of: {known}"),
    "bath-known": ("bath {subject!r} is in use (poured {poured})", "close it first"),
    "wrong-bath": ("bath {bath} holds {kind}, step {step!r} needs {needed}", "use one of: {known}"),
    "bath-closed": ("bath {bath} is closed ({why})", "pour a new one"),
    "bath-failed": (
        "bath {bath} failed its strip test",
        "discard it and pour a new one; a lead may correct a misread strip",
    ),
    "bath-withdrawn": (
        "bath {bath} was taken out of use ({why})",
        "use another bath; a lead looks and closes this one",
    ),
    "bath-expired": ("bath {bath}: {what} ended on {date}", "discard it and pour a new one"),
    "bath-used": ("detergent bath {bath} has already served {other}", "pour fresh detergent for every scope"),
    "bath-single-use": ("bath {bath} is for one scope and has been used", "pour a new one"),
    "bath-not-activated": (
        "bath {bath} holds {title}, which must be activated, and no activation date is given",
        "activate it by its label and pour it again with the date",
    ),
    "not-manual": ("{title} is cleared for {use} only, not for a manual soak", "use a bath with a manual claim"),
    "not-enabled": (
        "the claim {claim} rests on memory and no lead has confirmed it",
        "a lead confirms it by the label first",
    ),
    "claim-not-allowed": ("the protocol does not allow {claim} in a manual soak", "use one of: {known}"),
    "unknown-claim": ("no chemistry claim is called {claim!r}", "choose one of: {known}"),
    "unsuitable": ("{title} is not for flexible endoscopes", "use a disinfectant whose label names them"),
    # containers and labels
    "needs-label": ("{do} lacks {missing}", "type it from the label, scan the label, or name the registered container"),
    "label-unread": ("{why}", "or type lot and expiry by hand"),
    "label-contradicts": (
        "{name} was typed as {typed}, the label says {scanned}",
        "look at the label and give one of them",
    ),
    "container-known": ("a container is labelled {subject!r} since {since}", "close it first, or use another label"),
    "unknown-container": ("no open container is labelled {container!r}", "register it first; known: {known}"),
    "container-differs": (
        "container {container} has {name} {held}, the command says {given}",
        "leave it out, or name the right container",
    ),
    "top-up-differs": ("bath {bath} holds {held}, not {added}", "top up with the same solution, or pour a new bath"),
    "no-temperature": ("no temperature of bath {bath}", "measure it and give temp_c"),
    "too-cold": (
        "bath {bath} is {temp} °C, the minimum is {low} °C",
        "warm it as its label allows, or use another bath",
    ),
    "too-warm": ("bath {bath} is {temp} °C, the maximum is {high} °C", "let it cool, or use another bath"),
    "no-strip": ("no strip test of bath {bath} for {subject} in this soak", "dip a strip now and record what it shows"),
    "unknown-strip": ("no strip test {test!r} of bath {bath}", "record the strip test first"),
    "strip-failed": ("strip test {test} of bath {bath} failed", "do not use this bath"),
    "strip-other": (
        "strip test {test} was for {other}, not for {subject}",
        "one strip covers one scope; dip a new one",
    ),
    "strip-used": ("strip test {test} has already covered a soak", "one strip covers one soak; dip a new one"),
    "strip-void": ("strip test {test} is void", "one strip read in its time; dip a new one"),
    "strip-before": (
        "strip test {test} of bath {bath} was dipped before the bath was topped up",
        "dip a new strip for this scope",
    ),
    "unknown-strips": ("no bottle of test strips is labelled {strips!r}", "register the bottle first; known: {known}"),
    "strips-known": ("a bottle of strips is already labelled {subject!r}", "close it first, or use another label"),
    "strips-closed": ("the strip bottle {strips} is discarded ({why})", "use another bottle"),
    "strips-expired": ("strip bottle {strips}: {what} ended on {date}", "discard it and register a new bottle"),
    "strips-uncontrolled": (
        "strip lot {lot} (bottle {strips}) has not been controlled",
        "dip {needed} strips in full-strength and {needed} in weakened solution and record the control",
    ),
    "strip-kind": (
        "strip bottle {strips} is for {type}, bath {bath} needs strips for {needed}",
        "use strips that its label names",
    ),
    "needs-read-time": (
        "the strips of bottle {strips} are read within a window, and no reading time is given",
        "record the dip (dip-strip) so that the app counts, or give the seconds to the reading (read_after_s)",
    ),
    "strip-early": (
        "a strip of bottle {strips} is read {first} s after its dip at the earliest",
        "read it in {left} s",
    ),
    "strip-not-now": (
        "{subject} is at step {step}, not before a soak in disinfectant",
        "dip the strip when the scope is about to go in",
    ),
    "control-few": (
        "the control of {strips} has {positive} strips on full-strength and {negative} on weakened solution",
        "dip {needed} of each",
    ),
    "window-order": ("{first} is above {last}", "check both on the label"),
    "strip-known": ("a strip test is already called {test!r}", "use another id, or none"),
    "not-hld": ("bath {bath} holds {kind}; a strip test is for a disinfectant", "choose the disinfectant bath"),
    "early-lift": (
        "{subject}: {done} of {needed} contact time proven, {left} to go",
        "leave it in; if it had to come out, give the reason and contact starts again from zero",
    ),
    "past-limit": (
        "{subject} is {over} past its limit in {bath}: an interruption would hide that",
        "lift it: out and rinse now, a lead decides what follows",
    ),
    "soak-limits": (
        "step {step!r} needs {needed} in the bath, its maximum is {most}",
        "use a bath with a shorter contact time, or a lead looks into the IFU",
    ),
    "no-maximum": (
        "the protocol gives no maximum for the extended soak",
        "a lead sets it by the IFU (decide, soak_s_max)",
    ),
    # undo, lead, release
    "undo-none": ("there is nothing to undo for {subject}", "go on with the step"),
    "undo-late": ("the last tap was {ago} s ago, undo works for {within} s", "call a lead"),
    "undo-unsafe": ("{what} can't be undone", "a lead corrects it"),
    "leaking": (
        "{subject} has failed its leak test and its cycle can't be voided",
        "correct the leak result first, or finish the steps before repair",
    ),
    "nothing-to-correct": ("there is no {what} of {subject} to correct", "check the tag or bath"),
    "held": ("{subject} is held: {why}", "a lead decides what follows (decide keep, reprocess or out-of-service)"),
    "stored-decision": (
        "{subject} is not in a cycle, so {decision} does not fit",
        "decide keep, reprocess or out-of-service",
    ),
    "open-decision": (
        "{subject} is in a cycle, so {decision} does not fit",
        "decide continue, clean-again, disinfect-again or out-of-service",
    ),
    "acts-unconfirmed": (
        "{subject} can't be released: unconfirmed acts on it: {count}",
        "somebody who is signed in confirms them first (confirm-acts)",
    ),
    "not-releasable": ("{subject} can't be released: {why}", "finish its cycle first"),
    "released": ("{subject} was released by {by}", "nothing to do"),
    # limits and claims
    "air-pressure": ("air at {value} psi is not below {below} psi ({limit})", "turn the pressure down"),
    "alcohol-always": (
        "step {step!r} can't be skipped: the unit chose {limit}",
        "do it, or a lead chooses another set",
    ),
    "unknown-limits": ("no limit set is called {subject!r}", "choose one of: {known}"),
    "not-seen": (
        "sources disagree about {kind}: {disagree} {subject} is {title} ({known}; {says}). Others: {others}",
        "read this, then choose with seen = true",
    ),
    "needs-assessment": ("{subject} rests on the unit's own assessment", "give the days it came to (storage_d)"),
    "no-assessment": ("{subject} names its own time", "leave storage_d out, or choose storage-assessment"),
    "not-by-hand": (
        "it is not stated that the label allows {claim} for a manual soak",
        "look at the label; where it does, give by_hand = true",
    ),
    "label-figures": ("{claim} lacks the label's {missing}", "type every figure from the label in hand"),
    "label-both": ("{claim} is given as single use and with a reuse life", "give the one that the label names"),
    "label-differs": (
        "{claim}: {name} of {label} is laxer than the row's {row} ({source})",
        "look at the label again; a laxer label is another product",
    ),
    # purge
    "no-retention": (
        "the unit has not said how long weeks are kept",
        "an administrator sets it, by the unit's own rules and law (set-unit, keep_weeks)",
    ),
    "week-kept": ("weeks since {week}: {ago}; the unit keeps {keep} besides the running one", "wait, or purge less"),
    "purge-order": ("{week} does not follow line {seq}, up to which the record was purged", "purge the oldest week"),
    "week-needed": ("{week} is still needed: {what}", "do that first, then purge again"),
    # register
    "person-known": ("{subject!r} is already on the list, or was", "use another id"),
    "reserved-person": ("{subject!r} names nobody: the record uses it itself", "use another id"),
    "no-person": ("{subject!r} is not on the unit's list of people", "check the id"),
    "last-administrator": ("{subject!r} is the unit's last {role}", "add another one first"),
    "last-pin": (
        "PINs are required and nobody but {subject!r} could set one",
        "give another administrator a PIN first",
    ),
    "pins-without-one": ("no administrator has a PIN, so nobody could sign in", "set an administrator's PIN first"),
    "pin-of-other": ("{by!r} can't set the PIN of {subject!r}", "sign in as yourself, or call an administrator"),
    "pin-cost": ("N is {n}, not a power of two", "hash the PIN with N = 16384"),
    "badge-known": ("the badge {badge!r} is already that of {holder!r}", "take another badge"),
    "unknown-protocol": ("no protocol is called {protocol!r}", "adopt it first; known: {known}"),
    "protocol-fault": ("the protocol has faults: {faults}", "mend the file and check it, then adopt it"),
    "protocol-id": ("the text is protocol {found!r}, not {subject!r}", "give it under its own id"),
    "no-change": ("nothing would change", "give at least one setting"),
    "date-order": ("{first} {a} is after {second} {b}", "check the label"),
    **WORDS_BETWEEN,
}


def refuse(key: str, **values: Any) -> Refusal:
    """Promise the refusal of that key with its values filled in. Raises Defect for a key without words."""
    if key not in WORDS:
        raise Defect(f"no words for refusal {key!r}")
    why, remedy = WORDS[key]
    return Refusal(key, why.format(**values), remedy.format(**values), values)
