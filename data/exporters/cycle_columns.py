"""The columns of cycles.csv: one table that is the header, its documentation and the code at once.

The fields follow what ANSI/AAMI ST58 (as quoted by an accreditation newsletter of March 2022, CIHQ) and the
multisociety, HICPAC and AORN lists (as tabulated by a society page, GIE-LOG) want a record to hold. No column holds a
patient's name or number: case reference, procedure date and procedure type stand in for them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from data.exporters import cycle_row as row
from data.exporters.csv_text import Column, Kind, listed
from data.exporters.cycle_row import CycleRow

_Column = Column[CycleRow]


def _at(path: str, name: str, means: str, kind: Kind = "text") -> _Column:
    return Column(name, kind, means, lambda r: r.get(path))


def _part(part: str, key: str, name: str, means: str, kind: Kind = "text") -> _Column:
    return Column(name, kind, means, lambda r: getattr(r, part).get(key))


def _who(role: str, name: str, means: str) -> _Column:
    return Column(name, "text", means, lambda r: listed(r.get(f"people.{role}")))


def _made(name: str, means: str, value: Callable[[CycleRow], Any], kind: Kind = "text") -> _Column:
    return Column(name, kind, means, value)


_COMING_IN = (
    _at("week", "week", "ISO week in which the cycle ended"),
    _at("cycle", "cycle", "id of the cycle: the id of its receipt"),
    _at("outcome.outcome", "outcome", "completed, voided, out of service or handed over to another handheld"),
    _at("outcome.reason", "outcome_reason", "outcome word or stated reason of the last event"),
    _at("outcome.at", "ended_at", "when the cycle ended"),
    _at("outcome.by", "ended_by", "who ended it"),
    _at("outcome.step", "ended_step", "step at which it ended"),
    _at("outcome.owner", "owner", "who answers for a scope that went out of service"),
    _at("outcome.disinfected", "disinfected", "contact or machine run complete, and nothing undid it since", "yes/no"),
    _at("scope.tag", "scope_tag", "the unit's own tag of the scope"),
    _at("scope.model", "scope_model", "model"),
    _at("scope.serial", "scope_serial", "serial number"),
    _at("scope.loaner", "scope_loaner", "on loan", "yes/no"),
    _at("scope.family", "scope_family", "kind of scope, as the protocol names it"),
    _at("protocol.id", "protocol", "protocol that the cycle followed"),
    _at("protocol.text_sha256", "protocol_text_sha256", "content hash of its text; the text is in texts/"),
    _at("case.reference", "case", "case reference, never a patient's name"),
    _at("case.procedure_date", "procedure_date", "date of the procedure"),
    _at("case.procedure_type", "procedure_type", "type of the procedure"),
    _at("case.procedure_end", "procedure_end", "end of the procedure; empty when unknown"),
    _at("case.location", "location", "where the scope was used"),
    _at("case.clinician", "clinician", "who used it"),
    _at("preclean.done", "precleaned", "pre-cleaned at the bedside: yes, no or unknown"),
    _at("preclean.start", "preclean_start", "start of the pre-clean"),
    _at("preclean.end", "preclean_end", "end of the pre-clean"),
    _at("preclean.by", "precleaned_by", "who pre-cleaned"),
    _at("received.at", "received_at", "when it came in"),
    _at("received.by", "received_by", "who received it"),
    _at("delay.origin", "delay_origin", "moment from which the delay counts"),
    _at("delay.delay_s", "delay_s", "delay from there to the start of manual cleaning", "number"),
    _at("delay.delay_s_max", "delay_limit_s", "its limit", "number"),
    _at("delay.limit_set", "delay_limit_set", "limit set that the unit had chosen; empty: the protocol's own"),
    _at("delay.delayed", "delayed_branch", "the delayed branch was taken", "yes/no"),
)
_CLEANING = (
    _part("leak", "result", "leak_test_result", "last leak test: pass or fail"),
    _part("leak", "at", "leak_test_at", "when"),
    _part("leak", "by", "leak_tested_by", "by whom"),
    _made("leak_tests", "all leak tests, a lead's correction included", row.leak_tests),
    _at("cleaning.start", "cleaning_start", "first start of manual cleaning"),
    _at("cleaning.end", "cleaning_end", "last end of manual cleaning"),
    _at("cleaning.length_s", "cleaning_s", "proven length of the last round", "number"),
    _made("cleaning_rounds", "rounds of manual cleaning", lambda r: len(r.get("cleaning.rounds")), "number"),
    _who("cleaned", "cleaned_by", "who cleaned and rinsed before disinfection"),
    _part("detergent", "title", "detergent", "detergent, by its generic name"),
    _part("laid", "bath", "detergent_bath", "label of its bath"),
    _part("detergent", "lot", "detergent_lot", "its lot"),
    _part("detergent", "expires", "detergent_expires", "printed expiry date"),
    _part("laid", "temp_c", "detergent_temp_c", "temperature read when the scope was laid in", "number"),
    _made("detergent_soaks", "soaks in detergent: proven of required time, temperature, result", row.detergent_soaks),
    _made("wipes", "outside wiped: what was seen at each section", lambda r: row.looks(r, "wipes")),
    _made("brushing", "brush passes at each opening and channel, and those that brought debris", row.brushing),
    _made("brush_passes", "brush passes in all", lambda r: sum(b["passes"] for b in r.all["brushing"]), "number"),
    _made("flushes", "flushes and purges, before and after disinfection", row.flushes),
    _made("inspections", "what each inspection showed", lambda r: row.looks(r, "inspections")),
    _who("inspected", "inspected_by", "who inspected"),
    _made("verification", "cleaning-verification readings with limits, unit and meter", row.readings),
)
_DISINFECTION = (
    _at("disinfection.method", "disinfection_method", "soak or machine, as last begun"),
    _who("disinfected", "disinfected_by", "who started and ended contact or machine run"),
    _part("soak", "bath", "hld_bath", "label of the disinfectant bath of the last soak"),
    _part("soak", "bath_uid", "hld_bath_id", "id of its pouring"),
    _part("bath", "claim", "hld_claim", "published claim it was used under"),
    _part("bath", "title", "hld_title", "chemistry, by its generic name"),
    _part("bath", "lot", "hld_lot", "lot number"),
    _part("bath", "expires", "hld_expires", "shelf-life date printed on the container"),
    _part("bath", "opened", "hld_opened", "day the container was opened"),
    _part("bath", "container", "hld_container_id", "id of the registration of the container it was poured from"),
    _part("bath", "opened_d_max", "hld_opened_life_d", "use life of the open container", "number"),
    _part("bath", "activated", "hld_activated", "day it was activated or diluted"),
    _part("bath", "poured", "hld_poured_at", "when it was poured"),
    _part("bath", "poured_by", "hld_poured_by", "who poured it"),
    _part("bath", "reuse_d_max", "hld_reuse_life_d", "reuse life of the bath", "number"),
    _part("bath", "last_day", "hld_last_day", "last day it may be used"),
    _part("bath", "last_day_set_by", "hld_last_day_set_by", "which of its lives ends then"),
    _part("soak", "required_s", "contact_required_s", "contact time needed", "number"),
    _part("soak", "contact_s", "contact_proven_s", "contact time proven by the elapsed clock", "number"),
    _part("soak", "soak_s_max", "contact_limit_s", "longest time allowed", "number"),
    _part("soak", "result", "contact_result", "full, late, early, too cold, unproven or interrupted"),
    _part("soak", "start", "contact_start", "start of contact"),
    _part("soak", "end", "contact_end", "lift"),
    _part("bath", "temp_c_min", "contact_temp_min_c", "lowest temperature of the claim", "number"),
    _part("soak", "temp_c", "contact_temp_start_c", "temperature at the start", "number"),
    _part("soak", "lift_temp_c", "contact_temp_lift_c", "temperature at the lift", "number"),
    _made("soak_attempts", "soaks in disinfectant begun", lambda r: len(r.get("disinfection.soaks")), "number"),
    _part("strip", "result", "strip_result", "test strip that covers this soak: pass or fail"),
    _part("strip", "strip_lot", "strip_lot", "lot of the strip bottle"),
    _part("strip", "strip_type", "strip_type", "what its strips show"),
    _part("strip", "strip_expires", "strip_expires", "printed expiry date of the bottle"),
    _part("strip", "strip_opened", "strip_opened", "day the bottle was opened"),
    _part("strip", "read_after_s", "strip_read_after_s", "seconds from dipping to reading, where given", "number"),
    _part("strip", "at", "strip_at", "when it was read"),
    _part("strip", "by", "strip_by", "who read it"),
    _made("strip_tests", "all strips read for this cycle", row.strip_tests),
    _part("run", "machine", "machine", "number of the machine"),
    _part("run", "run", "machine_run", "its cycle number"),
    _part("run", "start", "machine_run_start", "start of the run"),
    _part("run", "end", "machine_run_end", "end of the run"),
    _part("run", "run_s", "machine_run_s", "its proven length", "number"),
    _part("run", "result", "machine_run_result", "what the machine said"),
)
_FINISH = (
    _made("rinses", "rinses after disinfection", lambda r: sum(x["count"] for x in r.final_rinses), "number"),
    _made("rinse_water", "water grades used for them", row.water),
    _who("rinsed", "rinsed_by", "who rinsed after disinfection"),
    _made("alcohol_pct", "strength of the alcohol flush", row.alcohol_pct, "number"),
    _at("drying.start", "drying_start", "air on"),
    _at("drying.end", "drying_end", "found dry"),
    _at("drying.air_s", "drying_s", "proven time in air", "number"),
    _at("drying.air_psi", "drying_air_psi", "pressure of the air, where given", "number"),
    _at("drying.wet_checks", "drying_wet_checks", "looks that still found moisture", "number"),
    _who("dried", "dried_by", "who dried"),
    _at("storage.at", "stored_at", "when it was hung"),
    _at("storage.place", "storage_place", "where it hangs"),
    _at("storage.label", "storage_label", "storage label put on", "yes/no"),
    _who("stored", "stored_by", "who hung it"),
    _at("storage.hang_from", "hang_from", "start of the hang time: end of drying"),
    _at("storage.hang_s_max", "hang_limit_s", "longest hang time", "number"),
    _at("storage.hang_limit", "hang_limit_set", "limit set that the unit had chosen; empty: the protocol's own"),
    _at("storage.hang_until", "hang_until", "end of the hang time"),
    _made("lates", "limits that were passed, and by how long", row.lates),
    _made("restarts", "soaks, air or runs begun again from zero, and why", row.restarts),
    _made("holds", "waits for a lead, and what was decided", row.holds),
    _made("notices", "notices shown", row.notices),
    _made("skipped", "optional steps left out, and why", row.skips),
    _made("notes", "notes", row.notes),
    _made("taken_back", "taps taken back", row.taken_back),
    _made("people", "ids and names of all who gave a command", row.names),
    _made("events", "events of the cycle", lambda r: len(r.all["events"]), "number"),
)
CYCLE_COLUMNS: tuple[_Column, ...] = _COMING_IN + _CLEANING + _DISINFECTION + _FINISH
