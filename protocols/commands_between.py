"""Commands on a scope between its cycles, and on what a unit keeps up; part of the one list in `protocols.commands`."""

from __future__ import annotations

from protocols.spec import Spec, Value, choice, text

SIGNATURE = Value("hex", "Ed25519 signature of the message", True)

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
    "record-competency": Spec("upkeep", "a person was found competent, until a day", {
        "what": text("in what (a family, a chemistry, the leak test)", True),
        "done": Value("date", "day of the assessment", True), "until": Value("date", "last day it holds", True)}, True),
    "record-filter": Spec("upkeep", "a filter was changed", {
        "what": text("which kind (rinse water, air, cabinet)", True), "done": Value("date", "day of the change", True),
        "until": Value("date", "last day before the next change")}),
    "record-culture": Spec("upkeep", "a culture of a scope, by the laboratory's reference", {
        "taken": Value("date", "day of the sample", True),
        "result": choice("what grew (action: at or above the unit's action level: quarantine)",
                         "none", "growth", "action"),
        "reference": text("the laboratory's number", True), "until": Value("date", "day of the next sample")}),
    "pair-handheld": Spec("handheld", "take another handheld's name and public key, for handing cycles over", {
        "public_key": Value("hex", "its public key, as main.py key shows it there", True)}, True),
    "hand-over": Spec("scope", "offer a cycle under way to a paired handheld; it is frozen here until that answers", {
        "device": text("name of the handheld that is to go on", True)}),
    "take-over": Spec("scope", "take a cycle that another handheld offers, whole and once", {
        "offer": Value("message", "the offer as it came", True), "signature": SIGNATURE}),
    "decline-offer": Spec("scope", "give an offer back: the sender goes on", {
        "offer": Value("message", "the offer as it came", True), "signature": SIGNATURE}),
    "confirm-handover": Spec("scope", "take the answer of the handheld that a cycle was offered to", {
        "answer": Value("message", "the answer as it came", True), "signature": SIGNATURE}),
    "hand-shift": Spec("person", "hand the shift to a person; each running soak is acknowledged by them", {}),
    "acknowledge": Spec("acts", "the incoming person has looked at a scope that lies in a soak or runs", {}),
}  # fmt: skip
