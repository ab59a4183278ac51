"""Leak test, manual cleaning, inspection and its verification, as a cycle's events tell them."""

from __future__ import annotations

from typing import Any

from data.cycles.story import Story, Visit, people, stamped


def leak_tests(story: Story) -> list[dict[str, Any]]:
    """Promise every leak test: when, by whom, its outcome word, "pass" or "fail", and the lead's correction if any."""
    found: list[dict[str, Any]] = []
    for event in story.live:
        if event.kind == "look" and event.data["stage"] == "leak test" and "to" in event.data:
            failed = "leak" in event.data.get("flags", ())
            found.append({**stamped(event, "outcome", "confirmed"), "result": "fail" if failed else "pass",
                          "corrected_by": None, "corrected_why": None})  # fmt: skip
        elif event.kind == "correct" and event.data.get("what") == "leak" and found:
            found[-1].update(corrected_by=event.by, corrected_why=event.data["reason"])
    return found


def cleaning(story: Story) -> dict[str, Any]:
    """Promise the manual cleaning: its first start, its last end, and every round with its proven length (s)."""
    rounds: list[dict[str, Any]] = []
    for event in story.live:
        if "clean_from" in event.data.get("moments", ()):
            rounds.append({"start": event.wall, "end": None, "length_s": None})
        if "clean_s" in event.data and rounds:
            rounds[-1].update(end=event.wall, length_s=event.data["clean_s"])
    last = rounds[-1] if rounds else {}
    return {
        "start": rounds[0]["start"] if rounds else None, "end": last.get("end"), "length_s": last.get("length_s"),
        "rounds": rounds, "by": people(story.staged("clean", "rinse")),
    }  # fmt: skip


def looks(story: Story, stage: str) -> list[dict[str, Any]]:
    """Promise every look of one stage with the words it ended with, debris that was seen included.

    Laying the scope into a bath is a look too, but no inspection: it shows under the bath.
    """
    seen = [(v, [e for e in v.of("look") if "bath" not in e.data]) for v in story.visits if v.stage == stage]
    return [{**visit.times, "outcomes": [e.data["outcome"] for e in found]} for visit, found in seen if found]


def brushing(story: Story) -> list[dict[str, Any]]:
    """Promise the brush passes of every visit to a brushing step, how many brought debris, and the brush's end."""
    return [_brushed(v) for v in story.visits if v.of("pass")]


def _brushed(visit: Visit) -> dict[str, Any]:
    passes = visit.of("pass")
    return {
        **visit.times, "passes": len(passes), "with_debris": sum(e.data["debris"] == "seen" for e in passes),
        "brush_discarded": any("brush" in e.data.get("confirmed", ()) for e in passes) or None,
    }  # fmt: skip


def counts(story: Story) -> dict[str, list[dict[str, Any]]]:
    """Promise every counted step under "alcohol", "rinses" (whole scope, no volume) or "flushes" (all others).

    Each with how many of how many, volume (mL), fresh water and its grades, alcohol strength (%).
    """
    sorted_out: dict[str, list[dict[str, Any]]] = {"alcohol": [], "rinses": [], "flushes": []}
    for counted in (_counted(v) for v in story.visits if v.of("count")):
        if counted["alcohol_pct"] is not None:
            kind = "alcohol"
        elif counted["volume_ml"] is None and counted["stage"] in ("rinse", "final rinse"):
            kind = "rinses"
        else:
            kind = "flushes"
        sorted_out[kind].append(counted)
    return sorted_out


def _counted(visit: Visit) -> dict[str, Any]:
    done = visit.of("count")
    last = done[-1].data
    return {
        **visit.times, "count": len(done), "of": last["of"], "volume_ml": last.get("volume_ml"),
        "fresh": any("fresh" in e.data.get("confirmed", ()) for e in done),
        "water": list(dict.fromkeys(e.data["water"] for e in done if e.data.get("water"))),
        "alcohol_pct": next((e.data["alcohol_pct"] for e in reversed(done) if "alcohol_pct" in e.data), None),
    }  # fmt: skip


def detergent_baths(story: Story) -> list[dict[str, Any]]:
    """Promise every laying into detergent that is a look: bath, lot and temperature (°C)."""
    found = []
    for event in story.carrying("bath_uid"):
        if event.kind == "look":
            temp = event.data.get("bath_temp_c")
            found.append({**stamped(event, "bath", "bath_uid", "bath_lot"), "temp_c": temp})
    return found


def verification(story: Story) -> list[dict[str, Any]]:
    """Promise every reading with its limit, unit, meter and verdict."""
    names = ("method", "meter", "value", "unit", "limit", "verdict")
    return [stamped(e, *names) for e in story.live if e.kind == "read"]
