"""Commands on a scope between its cycles, and on what a unit keeps up; part of the one list in `protocols.commands`."""

from __future__ import annotations

from protocols.spec import Spec, Value, choice, text

SPECS_BETWEEN: dict[str, Spec] = {
    "issue-scope": Spec("scope", "give a released scope out to a case", {
        "case": text("case reference, never a patient's name", True),
        "cycle": text("the cycle that made it ready, as it was seen"),
        "location": text("where it goes")}),
    "procedure-ended": Spec("scope", "a procedure is over and its scope has not come in: the delay runs", {
        "procedure_end": Value("time", "end of the procedure", True),
        "case": text("case reference; needed where the scope was not issued"),
        "preclean_start": Value("time", "start of the pre-clean"), "preclean_end": Value("time", "its end")}),
    "report-fault": Spec("scope", "put a scope into quarantine; a cycle under way goes on", {
        "kind": choice("what is wrong", "leak", "damage", "contamination", "other"),
        "text": text("in words", True), "owner": text("who now answers for it")}),
    "decontaminate": Spec("scope", "record how a scope in quarantine was decontaminated before repair", {
        "how": text("by which process, and how far where it can't be immersed", True)}),
    "send-for-repair": Spec("scope", "send a decontaminated scope away", {
        "to": text("to whom", True), "reference": text("number of the order or of the decontamination form")}),
    "return-checked": Spec("scope", "a lead takes a scope out of quarantine by its checks; a whole cycle follows", {
        "leak_test": choice("leak test (none: the family has none)", "pass", "fail", "none"),
        "inspection": choice("looked over, channels and tip included", "pass", "fail"),
        "report": text("number of the repair report"), "culture": text("reference of a culture without growth")}, True),
}  # fmt: skip
