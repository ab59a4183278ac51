"""A prompt in words and plain facts, for the command line. The screens have catalogues of their own."""

from __future__ import annotations

from typing import Any

from protocols.clock import clock_text, local, wall_text
from protocols.prompts import Call, Prompt

WANTED = {
    "soak": "lift out",
    "air": "check dry",
    "run": "end the machine run",
    "each": "next rinse, fresh water",
    "start": "begin",
    "delay": "start manual cleaning",
    "lead": "call a lead",
}


def level_name(prompt: Prompt) -> str:
    """Promise the level in small letters: soon, ready, late, very late."""
    return prompt.level.name.lower().replace("_", " ")


def call_facts(call: Call, from_wall_ms: int, zone: str) -> dict[str, Any]:
    """Promise a call as plain values: when it sounded first, for whom, how urgent, how often."""
    prompt = call.prompt
    return {
        "at": wall_text(from_wall_ms + round(call.after_s * 1000), zone),
        "scope": prompt.scope,
        "level": level_name(prompt),
        "for": WANTED[prompt.kind],
        "step": prompt.step,
        "times": call.times,
    }


def call_line(call: Call, at_wall_ms: int, zone: str) -> str:
    """Promise a call as one line of a rehearsal."""
    prompt = call.prompt
    over = ""
    if prompt.level.name in ("LATE", "VERY_LATE"):
        over = f"  over limit {clock_text(max(0.0, prompt.over_s))}"
    often = f"  x{call.times}" if call.times > 1 else ""
    moment = local(at_wall_ms, zone)
    what = f"{WANTED[prompt.kind]} ({prompt.step})"
    return f"{moment:%H:%M:%S}  {prompt.scope:<4} {level_name(prompt):<10} {what}{over}{often}"
