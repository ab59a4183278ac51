"""The door's refusals as messages of the catalogue, so that they can be said in another language than English."""

from __future__ import annotations

from protocols.refusals import WORDS

# The command line names commands and ids; a page has buttons and titles, and says what those say.
_ON_A_PAGE = {
    "stale-view.why": "{subject} has moved on since that screen was drawn",
    "not-seen.why": "the sources disagree about this limit: {disagree}",
    "cycle-differs.why": "{subject} has gone through another cycle since that screen was drawn",
    "not-enabled.why": "{title} is not enabled: no lead has confirmed it by its label",
    "claim-not-allowed.why": "the protocol does not allow {title} in a manual soak",
    "claim-not-allowed.remedy": "use a bath of a solution that it allows",
    "not-by-hand.why": "it is not stated that the label allows {title} for a manual soak",
    "label-figures.why": "{title} lacks the label's {missing}",
    "label-both.why": "{title} is given as single use and with a reuse life",
    "label-differs.why": "{title}: {name} of {label} is laxer than what was read, {row} ({source})",
    "air-pressure.why": "air at {value} psi is not below {below} psi, the limit that the unit chose",
    "alcohol-always.why": "step {step!r} can't be skipped: the unit chose an alcohol flush in every cycle",
    "sign-in-by.remedy": "nobody is signed in before the PIN fits",
    "not-signed-in.remedy": "sign in; lift, rinse, interrupt and out of service are taken without",
    "wait-lead.remedy": "a lead decides what follows by the IFU",
    "unproven.remedy": "a lead has it cleaned or disinfected again, or takes it out of service",
    "not-reached.remedy": "a lead lets it go on, has it cleaned again, or takes it out of service",
    "needs.remedy": "do it, then press the button that states it",
    "needs-record.remedy": "give it with the same press",
    "no-temperature.remedy": "measure it and press or type it",
    "needs-read-time.remedy": "press Strip dipped so that the app counts, or type the seconds to the reading",
    "no-maximum.remedy": "a lead sets it by the IFU",
    "held.remedy": "a lead keeps it, has it reprocessed, or takes it out of service",
    "stored-decision.remedy": "a lead keeps it, has it reprocessed, or takes it out of service",
    "open-decision.remedy": "a lead lets it go on, has it cleaned or disinfected again, or takes it out of service",
    "acts-unconfirmed.remedy": "somebody who is signed in confirms them first",
    "acts-unconfirmed-offer.remedy": "somebody who is signed in confirms them first",
    "not-seen.remedy": "read this, then choose",
    "needs-assessment.remedy": "give the days it came to",
    "no-assessment.remedy": "leave the days out, or choose the unit's own risk assessment",
    "not-by-hand.remedy": "look at the label; where it does, say so in the form",
    "no-retention.remedy": "an administrator sets it, by the unit's own rules and law",
    "not-released.remedy": "a named person releases it first",
    "hang-over.remedy": "reprocess it before use, without a case",
    "case-differs.remedy": "look at the case sheet and the tag; a lead corrects a wrong issue",
    "needs-receipt.remedy": "give it; or say what it is reprocessed for",
    "no-shift.remedy": "the outgoing person hands it over first",
    "away.remedy": "a lead takes it back by its checks first",
    "no-fault.remedy": "report the fault first",
    "fault-open.remedy": "leak test and inspection must pass first: a lead takes it back by them",
    "not-decontaminated.remedy": "decontaminate it as far as it allows and record how",
}
REFUSAL_WORDS = {
    f"refuse.{key}.{part}": _ON_A_PAGE.get(f"{key}.{part}", words)
    for key, pair in WORDS.items()
    for part, words in zip(("why", "remedy"), pair, strict=True)
}
"""Made from the words of the engine, which stay the only place where they are written but for those above."""
