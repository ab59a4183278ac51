"""A week as an HL7 FHIR bundle, release R4B (4.3.0): Device, Task with its steps as Tasks, Provenance.

Why Task and not Procedure: in R4B a Procedure's subject is a Patient or Group, and this record holds no patient. A
cycle is a Task whose focus is the scope (a Device); each visit to a step of the protocol is a Task that is part of it.
The case reference appears once a cycle, as an identifier without a resource behind it. People appear by the unit's own
id and name for them. Codes are texts of this record: no code system is claimed where none was agreed with a receiver.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from uuid import UUID, uuid5

from data.canonical import canonical
from data.cycles.story import Story
from data.exporters.fhir_steps import step_task
from data.exporters.standing import Standing
from data.gather import Ended, WeekRead

# A name space of our own; the uuids made in it are the same for the same record.
_SPACE = UUID("6f0d4a53-9b1e-5c8a-8f27-2d6c1b8e4a10")
TASK_STATUS = {"completed": "completed", "out of service": "failed", "voided": "cancelled", "handed over": "cancelled"}


def urn(*parts: str) -> str:
    """Promise a urn:uuid that is the same for the same parts."""
    return uuid5(_SPACE, "/".join(parts)).urn


def identifier(kind: str, value: str, device: str = "") -> dict[str, Any]:
    """Promise an identifier in the name space for that kind of id; ids that only one handheld gives name it."""
    return {"system": urn("ids", kind, device), "value": value}


def person(who: str, names: dict[str, str]) -> dict[str, Any]:
    """Promise a reference to a person by the unit's id, with the name on the unit's list."""
    return {"type": "Practitioner", "identifier": identifier("person", who), "display": names.get(who) or who}


def fhir_bundle(read: WeekRead, documents: list[dict[str, Any]], standing: Standing) -> bytes:
    """Promise the bundle of a week as canonical JSON; `documents` are those of `read`, in the same order."""
    entries: dict[str, dict[str, Any]] = {}
    for url, resource in _resources(read, documents, standing):
        entries.setdefault(url, resource)
    bundle = {
        "resourceType": "Bundle", "type": "collection", "timestamp": standing.at,
        "identifier": identifier("export", f"{standing.device}/{standing.week}/{standing.through}"),
        "entry": [{"fullUrl": url, "resource": resource} for url, resource in entries.items()],
    }  # fmt: skip
    return canonical(bundle) + b"\n"


def _resources(
    read: WeekRead, documents: list[dict[str, Any]], standing: Standing
) -> Iterator[tuple[str, dict[str, Any]]]:
    handheld = urn("handheld", standing.device)
    yield handheld, {
        "resourceType": "Device", "status": "active", "identifier": [identifier("handheld", standing.device)],
        "deviceName": [{"name": f"Basinbell handheld of {standing.unit}", "type": "user-friendly-name"}],
    }  # fmt: skip
    for ended, document in zip(read.ended, documents, strict=True):
        scope_url, scope = _scope(document, standing)
        yield scope_url, scope
        cycle_url = urn("cycle", standing.device, document["cycle"])
        yield cycle_url, _cycle(document, standing, scope_url)
        steps = list(_steps(ended, document, standing, cycle_url, scope_url))
        yield from steps
        yield urn("provenance", standing.device, document["cycle"]), _provenance(document, standing, cycle_url)


def _scope(document: dict[str, Any], standing: Standing) -> tuple[str, dict[str, Any]]:
    scope = document["scope"]
    known = scope["serial"] or f"{standing.unit}/{scope['tag']}"
    device: dict[str, Any] = {
        "resourceType": "Device", "status": "active", "identifier": [identifier("scope", scope["tag"], standing.unit)],
        "deviceName": [{"name": scope["tag"], "type": "user-friendly-name"}],
        "type": {"text": f"flexible endoscope: {scope['family'] or 'family unknown'}"},
    }  # fmt: skip
    if scope["serial"]:
        device["serialNumber"] = scope["serial"]
    if scope["model"]:
        device["modelNumber"] = scope["model"]
    return urn("scope", known), device


def _cycle(document: dict[str, Any], standing: Standing, scope_url: str) -> dict[str, Any]:
    end, names = document["outcome"], document["people"]["names"]
    task: dict[str, Any] = {
        "resourceType": "Task", "status": TASK_STATUS[end["outcome"]], "intent": "order",
        "identifier": [identifier("cycle", document["cycle"], standing.device)],
        "code": {"text": "manual reprocessing of a flexible endoscope"},
        "description": f"{document['scope']['tag']} by protocol {document['protocol']['id']}",
        "focus": {"reference": scope_url},
        "executionPeriod": {"start": document["received"]["at"], "end": end["at"]},
        "authoredOn": document["received"]["at"], "lastModified": end["at"],
        "owner": person(end["by"], names),
        "output": [{"type": {"text": "high-level disinfection proven"}, "valueBoolean": end["disinfected"]}],
    }  # fmt: skip
    if document["case"]["reference"]:
        task["encounter"] = {"type": "Encounter", "identifier": identifier("case", document["case"]["reference"])}
    if end["outcome"] != "completed":
        task["statusReason"] = {"text": end["reason"] or "no reason given"}
    return task


def _steps(
    ended: Ended, document: dict[str, Any], standing: Standing, cycle_url: str, scope_url: str
) -> Iterator[tuple[str, dict[str, Any]]]:
    names = document["people"]["names"]
    before = ""
    for number, visit in enumerate(Story(ended.events).visits, 1):
        task = step_task(visit, person(visit.events[-1].by, names))
        task.update(partOf=[{"reference": cycle_url}], focus={"reference": scope_url})
        if before:
            # The chain of steps: each rests on the one before it.
            task["basedOn"] = [{"reference": before}]
        before = urn("step", standing.device, document["cycle"], str(number))
        yield before, task


def _provenance(document: dict[str, Any], standing: Standing, cycle_url: str) -> dict[str, Any]:
    end, names = document["outcome"], document["people"]["names"]
    roles: dict[str, list[str]] = {}
    for role, people in document["people"].items():
        if role != "names":
            for who in people:
                roles.setdefault(who, []).append(role.replace("_", " "))
    agents = [
        {"who": person(who, names), "type": {"text": ", ".join(roles.get(who, ["took part"]))}} for who in sorted(names)
    ]
    return {
        "resourceType": "Provenance", "target": [{"reference": cycle_url}], "recorded": end["at"],
        "occurredPeriod": {"start": document["received"]["at"], "end": end["at"]},
        "agent": [*agents, {"who": {"reference": urn("handheld", standing.device)}, "type": {"text": "recorded by"}}],
        "entity": [{"role": "source", "what": {
            "identifier": identifier("chain", standing.head, standing.device),
            "display": f"line {standing.through} of the handheld's record",
        }}],
    }  # fmt: skip
