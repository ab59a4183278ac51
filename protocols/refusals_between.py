"""Words of the refusals that a scope meets between its cycles; part of the one list in `protocols.refusals`."""

from __future__ import annotations

WORDS_BETWEEN: dict[str, tuple[str, str]] = {
    # use
    "not-issuable": ("{subject} can't be issued: it is {place} ({why})", "issue another scope; this one is not ready"),
    "not-released": ("{subject} is not released for use", "a named person releases it first (release)"),
    "hang-over": (
        "{subject} has hung {over} past its limit of {limit}",
        "reprocess it before use (receive with again = storage)",
    ),
    "cycle-differs": (
        "{subject} was made ready by {last}, not by {seen}",
        "look at the scope's own cycle and issue it again",
    ),
    "needs-case": ("{subject} was not issued here, and no case is named", "give the case reference"),
    "case-differs": (
        "{subject} was issued to another case",
        "look at the case sheet and the tag; a lead corrects a wrong issue (correct issue)",
    ),
    "procedure-known": (
        "the procedure of {subject} is told to have ended at {at}",
        "receive the scope when it comes in",
    ),
    "needs-receipt": ("the receipt of {subject} lacks {missing}", "give it; or say what it is reprocessed for (again)"),
    "again-used": ("{subject} was used since its last cycle", "receive it with its case, so that its delay counts"),
    "again-case": ("{subject} is reprocessed without a case, and a case is named", "give one or the other"),
    # handover
    "unknown-peer": (
        "no handheld {device!r} is paired with this one; paired: {known}",
        "a lead pairs it first, with the key that it shows",
    ),
    "own-device": (
        "{device} is the name of this handheld",
        "where the other one has the same name, its home is a copy of this one: start it with a home of its own",
    ),
    "offered": (
        "{subject} is offered to {device} and frozen here until that answers",
        "go on there; or bring its answer here, taken or declined",
    ),
    "no-offer": ("{subject} is offered to no handheld", "nothing to confirm"),
    "acts-unconfirmed-offer": (
        "{subject} can't be handed over: unconfirmed acts on it: {count}",
        "somebody who is signed in confirms them first (confirm-acts)",
    ),
    "message-unread": ("this is no {kind} that can be read", "read it again from the other handheld"),
    "offer-known": (
        "that offer of {subject} by {device} was answered already",
        "give its answer to {device} again; nothing is taken twice",
    ),
    "answer-other": ("that answer is not for the offer of {subject} that stands", "read the answer to this offer"),
    "scope-differs": (
        "{subject} has serial {own} here and {offered} in the offer",
        "look at the scope: two scopes can't share a tag",
    ),
    "text-missing": (
        "the text of protocol {protocol!r} that this cycle began with is not here",
        "hand it over by file, which carries the text; or adopt that text here first",
    ),
    "not-genuine": (
        "the signature does not fit: the message was altered, or is not of {device}",
        "read it again; where it fails again, look at the key that was paired",
    ),
    "no-identity": ("this record has no key that a message could be meant for", "open it with the app or main.py"),
    "not-for-us": ("the message is for handheld {to!r}, this one is {device!r}", "read it with that handheld"),
    "own-shift": ("{subject!r} hands the shift to themselves", "name who comes in"),
    "no-shift": ("no shift is being handed to {by!r}", "the outgoing person hands it over first (hand-shift)"),
    "nothing-runs": ("nothing of {subject} runs that {by!r} has still to acknowledge", "look at another scope"),
    # faults
    "away": ("{subject} is away ({why})", "a lead takes it back by its checks first (return-checked)"),
    "no-fault": ("{subject} is not in quarantine", "report the fault first (report-fault)"),
    "fault-open": (
        "{subject} is in quarantine: {why}",
        "leak test and inspection must pass first: a lead takes it back by them (return-checked)",
    ),
    "not-decontaminated": (
        "{subject} was not decontaminated since its fault was found",
        "decontaminate it as far as it allows and record how (decontaminate)",
    ),
    "needs-leak-test": ("the protocol of {subject} has a leak test", "do it and record pass or fail"),
    "needs-culture": (
        "{subject} was contaminated again and no culture is named",
        "give the reference of a culture without growth",
    ),
}
