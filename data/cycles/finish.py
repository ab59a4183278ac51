"""The end of a cycle and all that went otherwise than planned: drying, storage, outcome, lates, holds, notes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from data.cycles.story import Story, people, stamped
from protocols.clock import parse_wall, wall_text


def drying(story: Story) -> dict[str, Any]:
    """Promise the drying air: its last start, the moment found dry, its proven length (s), and wet checks before."""
    starts = [e for e in story.live if e.kind == "start" and (e.data.get("timer") or {}).get("kind") == "air"]
    checks = [e for e in story.live if e.kind == "check"]
    dry = [e for e in checks if e.data["dry"]]
    return {
        "start": starts[-1].wall if starts else None, "end": dry[-1].wall if dry else None,
        "air_s": dry[-1].data["air_s"] if dry else None,
        "air_psi": starts[-1].data.get("air_psi") if starts else None, "wet_checks": len(checks) - len(dry),
        "by": people(e for e in story.live if e in starts or e in checks),
    }  # fmt: skip


def storage(story: Story, zone: str) -> dict[str, Any]:
    """Promise place, label and hang time: from the end of drying, its limit (s), the limit set
    it comes from, and until when. None where not stored.

    A cycle that did not complete was not stored for use, whatever it was hung up on the way.
    """
    stored = [e for e in story.live if e.data.get("stage") == "store" and e.kind == "look"]
    last = stored[-1].data if stored else {}
    completed = story.end.data["ends"] == "completed"
    dried = [e for e in story.live if "dried" in e.data.get("moments", ())]
    start = dried[-1].wall if dried and completed else None
    limit = story.end.data.get("hang_s_max")
    until = wall_text(parse_wall(start) + round(limit * 1000), zone) if start and limit is not None else None
    return {
        "at": stored[-1].wall if stored else None, "place": last.get("place"),
        "label": ("label" in last.get("confirmed", ())) if stored else None, "by": people(stored),
        "hang_from": start, "hang_s_max": limit, "hang_until": until, "hang_limit": story.end.data.get("hang_limit"),
    }  # fmt: skip


def outcome(story: Story) -> dict[str, Any]:
    """Promise how, when, where and by whom the cycle ended: completed, voided, out of service or handed over.

    A receipt that was taken back counts as voided. `disinfected` is what stands at the end.
    """
    end = story.end
    undone = end.data["ends"] == "undone"
    marks = [e.data["marks"]["disinfected"] for e in story.live if "disinfected" in e.data.get("marks", {})]
    owners = [e.data["owner"] for e in story.live if e.data.get("owner")]
    return {
        "outcome": "voided" if undone else end.data["ends"], "at": end.wall, "by": end.by, "kind": end.kind,
        "step": end.data.get("step") or None, "owner": owners[-1] if owners else None,
        "reason": "receipt taken back" if undone else _reason(end.data),
        "disinfected": bool(marks and marks[-1]),
    }  # fmt: skip


def _reason(data: Mapping[str, Any]) -> Any:
    return f"to {data['device']}" if data["ends"] == "handed over" else data.get("reason") or data.get("outcome")


def lates(story: Story) -> list[dict[str, Any]]:
    """Promise every limit that was passed, and by how long (s): cleaning begun late, a step begun late, a late lift."""
    found = []
    for event in story.live:
        data = event.data
        if data.get("delay_s") is not None and data["delay_s"] > data["delay_s_max"]:
            found.append({**stamped(event), "what": "cleaning begun", "over_s": data["delay_s"] - data["delay_s_max"]})
        if "start_late_s" in data:
            found.append({**stamped(event), "what": "step begun", "over_s": data["start_late_s"]})
        if "late_s" in data:
            found.append({**stamped(event), "what": "lift", "over_s": data["late_s"]})
    return found


def restarts(story: Story) -> list[dict[str, Any]]:
    """Promise every soak, air or run that had to begin again from zero, why, and how long it had lasted (s)."""
    found = []
    for event in story.live:
        data = event.data
        if event.kind == "interrupt":
            found.append({**stamped(event, "reason"), "what": "interrupted", "lasted_s": data.get("contact_s")})
        elif event.kind == "lift" and data["result"] in ("early", "too cold", "unproven"):
            found.append({**stamped(event, "reason"), "what": data["result"], "lasted_s": data["contact_s"]})
        elif event.kind == "run-end" and data["result"] != "complete":
            found.append({**stamped(event, "reason"), "what": f"run {data['result']}", "lasted_s": data["run_s"]})
    return found


def notices(story: Story) -> list[dict[str, Any]]:
    """Promise every notice that was shown."""
    return [{**stamped(e), "notice": text} for e in story.carrying("notices") for text in e.data["notices"]]


def holds(story: Story) -> list[dict[str, Any]]:
    """Promise every wait for a lead with what was decided (None while the cycle ended without a decision)."""
    found: list[dict[str, Any]] = []
    for event in story.live:
        if event.kind == "decide":
            if (not found or found[-1]["decided"]) and event.data.get("held_why"):
                # Another scope's failing strip had held it, in an event of that scope's cycle.
                found.append({**stamped(event), "kind": event.data["held"], "why": event.data["held_why"]})
            if not found:
                continue
            found[-1].update(decided=event.wall, decided_by=event.by, decision=event.data["decision"],
                             reason=event.data["reason"],
                             soak_s_max=event.data.get("marks", {}).get("extended_s_max"))  # fmt: skip
        elif event.data.get("hold"):
            found.append({**stamped(event), **event.data["hold"], "decided": None, "decided_by": None,
                          "decision": None, "reason": None, "soak_s_max": None})  # fmt: skip
    return found


def notes(story: Story) -> list[dict[str, Any]]:
    """Promise every note."""
    return [stamped(e, "what", "text") for e in story.live if e.kind == "note"]


def skips(story: Story) -> list[dict[str, Any]]:
    """Promise every optional step that was left out, with its reason."""
    return [stamped(e, "reason") for e in story.live if e.kind == "skip"]


def taken_back(story: Story) -> list[dict[str, Any]]:
    """Promise every tap that was taken back: which, when, and by whom."""
    return [
        {"at": e.wall, "by": e.by, "seq": e.data["undoes"], "what": e.data["what"], "step": e.data["step"] or None}
        for e in story.events if e.kind == "undo"
    ]  # fmt: skip
