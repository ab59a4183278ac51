"""One visit to a step of the protocol as a FHIR R4B Task: what was given, what came of it, and by whom."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from data.cycles.story import Visit

# Units as UCUM spells them, which FHIR asks for in a Quantity.
_UCUM = {"s": "s", "°C": "Cel", "mL": "mL", "%": "%"}

# What a step starts from, and what comes of it: key in the event's data, text of the type, unit or None for a text.
_INPUTS = (
    ("bath", "bath", None), ("bath_lot", "lot of the bath", None), ("claim", "claim of the bath", None),
    ("machine", "machine", None), ("run", "cycle number of the machine", None), ("method", "method", None),
    ("meter", "meter", None), ("volume_ml", "volume of each flush", "mL"),
)  # fmt: skip
_OUTPUTS = (
    ("outcome", "outcome", None), ("result", "result", None), ("verdict", "verdict", None), ("reason", "reason", None),
    ("debris", "debris on the brush", None), ("water", "water used", None), ("bath_temp_c", "temperature", "°C"),
    ("temp_c", "temperature", "°C"), ("lift_temp_c", "temperature at the lift", "°C"),
    ("contact_s", "contact time proven", "s"), ("air_s", "time in air proven", "s"),
    ("run_s", "length of the run", "s"), ("clean_s", "length of manual cleaning", "s"),
    ("delay_s", "delay before manual cleaning", "s"),
    ("start_late_s", "begun late by", "s"), ("late_s", "lifted late by", "s"), ("alcohol_pct", "alcohol", "%"),
    ("place", "place", None), ("owner", "who answers for the scope", None),
)  # fmt: skip


def step_task(visit: Visit, owner: dict[str, Any]) -> dict[str, Any]:
    """Promise the Task of one visit; whoever calls adds the cycle it is part of."""
    merged: dict[str, Any] = {}
    for event in visit.events:
        merged.update(event.data)
        merged.update({f"soak.{k}": v for k, v in (event.data.get("soak") or {}).items()})
    task: dict[str, Any] = {
        "resourceType": "Task", "status": "completed", "intent": "order",
        "code": {"text": visit.step}, "businessStatus": {"text": visit.stage},
        "executionPeriod": {"start": visit.events[0].wall, "end": visit.events[-1].wall},
        "lastModified": visit.events[-1].wall, "owner": owner,
    }  # fmt: skip
    given = [_value(merged, *row) for row in _INPUTS]
    came = [_value(merged, *row) for row in _OUTPUTS]
    required = _value(merged, "soak.required_s", "contact time needed", "s")
    inputs = [value for value in (*given, required) if value is not None]
    outputs = [value for value in (*came, *_counted(visit), _reading(merged)) if value is not None]
    if inputs:
        task["input"] = inputs
    if outputs:
        task["output"] = outputs
    return task


def _value(data: Mapping[str, Any], key: str, text: str, unit: str | None) -> dict[str, Any] | None:
    value = data.get(key)
    if value is None or value == "" or isinstance(value, (bool, dict, list)):
        return None
    if unit is None:
        return {"type": {"text": text}, "valueString": str(value)}
    if not isinstance(value, (int, float)):
        return None
    return {"type": {"text": text}, "valueQuantity": quantity(value, unit)}


def quantity(value: float, unit: str) -> dict[str, Any]:
    """Promise a Quantity, coded in UCUM where the unit is one of ours."""
    coded = {"system": "http://unitsofmeasure.org", "code": _UCUM[unit]} if unit in _UCUM else {}
    return {"value": value, "unit": unit, **coded}


def _counted(visit: Visit) -> list[dict[str, Any]]:
    """How often something was counted or brushed at this visit."""
    found = []
    for kind, text in (("count", "times done"), ("pass", "brush passes")):
        events = visit.of(kind)
        if events:
            found.append({"type": {"text": text}, "valueInteger": len(events)})
    seen = sum(event.data.get("debris") == "seen" for event in visit.of("pass"))
    if seen:
        found.append({"type": {"text": "brush passes with debris"}, "valueInteger": seen})
    return found


def _reading(data: Mapping[str, Any]) -> dict[str, Any] | None:
    if not isinstance(data.get("value"), (int, float)) or isinstance(data.get("value"), bool):
        return None
    return {"type": {"text": "reading"}, "valueQuantity": quantity(data["value"], str(data.get("unit") or "1"))}
