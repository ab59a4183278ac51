"""How the scope came in: which one, from which case, pre-cleaned or not, and how long it had waited."""

from __future__ import annotations

from typing import Any

from data.cycles.story import Story
from protocols.clock import parse_wall, wall_text


def local_time(text: str | None, zone: str) -> str | None:
    """Promise a time that somebody gave, written in the unit's zone like all others; None when not given."""
    return wall_text(parse_wall(text), zone) if text else None


def coming_in(story: Story, zone: str) -> dict[str, Any]:
    """Promise scope, protocol, case, pre-clean and receipt, with None for what was not given or not known."""
    data = story.receipt.data
    return {
        "scope": {
            "tag": story.receipt.subject, "model": data.get("model") or None, "serial": data.get("serial") or None,
            "loaner": bool(data.get("loaner")), "family": data.get("family"),
        },
        "protocol": {"id": data.get("protocol"), "text_sha256": data["text_sha256"]},
        "case": {
            "reference": data["case"], "procedure_date": data.get("procedure_date"),
            "procedure_type": data.get("procedure_type"), "procedure_end": local_time(data.get("procedure_end"), zone),
            "location": data.get("location"), "clinician": data.get("clinician"),
        },
        "preclean": {
            "done": data.get("precleaned"), "start": local_time(data.get("preclean_start"), zone),
            "end": local_time(data.get("preclean_end"), zone), "by": data.get("precleaned_by"),
        },
        "received": {"at": story.receipt.wall, "by": story.receipt.by},
    }  # fmt: skip


def delay(story: Story) -> dict[str, Any]:
    """Promise the delay to the start of manual cleaning (s), its origin and limit, and whether the delayed branch ran.

    `delay_s` is None where cleaning never began or the origin is unknown (then the branch is "delayed" from receipt).
    """
    data = story.receipt.data
    begun = next(iter(story.carrying("moments")), None)
    settled = begun.data if begun is not None and "delay_s" in begun.data else {}
    limit = (data.get("delay") or {}).get("max_s")
    at_once = bool(data["marks"]["delayed"])
    return {
        "origin": data.get("origin"), "delay_s": settled.get("delay_s"),
        "delay_s_max": settled.get("delay_s_max", limit), "delayed": at_once or bool(settled.get("delayed")),
        "known_at_receipt": at_once, "limit_set": data.get("delay_limit"),
    }  # fmt: skip
