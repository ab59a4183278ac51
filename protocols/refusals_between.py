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
