"""Soaks, strip tests, machine runs and the facts of every bath a cycle met."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from data.cycles.story import Story, stamped
from protocols.bath import last_day
from protocols.clock import Stamp, parse_wall
from protocols.event import Event
from protocols.unit import Bath

_FACTS = (
    "kind", "claim", "title", "use", "lot", "expires", "opened", "activated", "contact_s_min", "temp_c_min",
    "temp_c_max", "reuse_d_max", "opened_d_max", "container", "strip_type",
)  # fmt: skip


_STRIP_FACTS = ("strips", "strip_type", "strip_expires", "strip_opened", "read_after_s")


def baths(story: Story, pours: Mapping[str, Event], zone: str) -> list[dict[str, Any]]:
    """Promise the facts of every bath that an event of the cycle names, taken back or not, as poured.

    A bath whose pouring lies in a week that is no longer there keeps only what the cycle's own events say of it.
    """
    named: dict[str, list[Event]] = {}
    for event in story.events:
        if event.refs.get("bath"):
            named.setdefault(event.refs["bath"], []).append(event)
    return [
        _poured(pours[uid], zone) if uid in pours else _as_seen(uid, events) for uid, events in sorted(named.items())
    ]


def _poured(event: Event, zone: str) -> dict[str, Any]:
    facts: Mapping[str, Any] = event.data["bath"]
    bath = Bath(event.id, event.subject, poured=Stamp(0, 0, parse_wall(event.wall)), poured_by=event.by, **facts)
    last = last_day(bath, zone)
    return {
        "uid": event.id, "label": event.subject, "poured": event.wall, "poured_by": event.by,
        "last_day": last[0].isoformat() if last else None, "last_day_set_by": last[1] if last else None,
        **{name: facts.get(name) or None for name in _FACTS},
    }  # fmt: skip


def _as_seen(uid: str, events: list[Event]) -> dict[str, Any]:
    blank = dict.fromkeys(("poured", "poured_by", "last_day", "last_day_set_by", *_FACTS))
    seen = {k: v for e in events for k, v in e.data.items() if k in ("claim", "title") and v}
    lots = [e.data["bath_lot"] for e in events if e.data.get("bath_lot")]
    labels = [e.data.get("bath") or e.subject for e in events]
    return {"uid": uid, "label": labels[0], **blank, **seen, "lot": lots[0] if lots else None}


def soaks(story: Story, disinfecting: bool) -> list[dict[str, Any]]:
    """Promise every soak that was started and not taken back, in disinfectant or else in detergent, with its end.

    `result` is full, late, early, too cold, unproven or interrupted; None when the cycle ended while it ran.
    """
    found: list[dict[str, Any]] = []
    running: dict[str, Any] | None = None
    for event in story.live:
        if event.kind == "start" and event.data.get("soak"):
            running = _started(event)
            if (event.data["stage"] == "disinfect") is disinfecting:
                found.append(running)
        elif running is not None and event.kind in ("lift", "interrupt"):
            running.update(_lifted(event))
            running = None
    return found


def _started(event: Event) -> dict[str, Any]:
    soak = event.data["soak"]
    return {
        "step": event.data["step"], "start": event.wall, "started_by": event.by, "bath": event.data["bath"],
        "bath_uid": event.data["bath_uid"], "bath_lot": event.data["bath_lot"], "claim": event.data["claim"] or None,
        "confirmed": event.data["confirmed"], "test": soak.get("test") or None, "required_s": soak["required_s"],
        "soak_s_max": soak["max_s"], "temp_c": soak["temp_c"], "end": None, "ended_by": None, "contact_s": None,
        "lift_temp_c": None, "result": None, "reason": None, "late_s": None,
    }  # fmt: skip


def _lifted(event: Event) -> dict[str, Any]:
    data = event.data
    result = "interrupted" if event.kind == "interrupt" else data["result"]
    return {
        "end": event.wall, "ended_by": event.by, "contact_s": data.get("contact_s"), "result": result,
        "lift_temp_c": data.get("lift_temp_c"), "reason": data.get("reason"), "late_s": data.get("late_s"),
    }  # fmt: skip


def strip_tests(story: Story) -> list[dict[str, Any]]:
    """Promise every strip read for this cycle: result, bottle with its dates, bath, its age (s), and who read it."""
    return [
        {**stamped(e, "test", "result", "strip_lot", "bath_lot", "bath_age_s", *_STRIP_FACTS), "bath": e.subject,
         "bath_uid": e.refs["bath"]}
        for e in story.live if e.kind == "strip-test"
    ]  # fmt: skip


def machine_runs(story: Story) -> list[dict[str, Any]]:
    """Promise every machine run: machine, its cycle number, length (s) and what the machine said at its end."""
    found: list[dict[str, Any]] = []
    running = False
    for event in story.live:
        if event.kind == "start" and event.data.get("machine"):
            running = True
            found.append({
                "step": event.data["step"], "start": event.wall, "started_by": event.by,
                "machine": event.data["machine"], "run": event.data["run"], "end": None, "ended_by": None,
                "run_s": None, "result": None, "reason": None,
            })  # fmt: skip
        elif running and event.kind in ("run-end", "interrupt"):
            running = False
            found[-1].update(
                end=event.wall, ended_by=event.by, run_s=event.data.get("run_s", event.data.get("contact_s")),
                result=event.data.get("result", "interrupted"), reason=event.data.get("reason"),
            )  # fmt: skip
    return found


def method(story: Story) -> str | None:
    """Promise "soak" or "machine", whichever was begun last, for only then does a cycle go on; None for neither."""
    begun = [e for e in story.live if e.kind == "start" and e.data.get("stage") == "disinfect"]
    if not begun:
        return None
    return "machine" if begun[-1].data.get("machine") else "soak"
