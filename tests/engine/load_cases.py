"""A small protocol that keeps every rule, and one way to break each rule with the whole finding it must give.

All figures here are invented.
"""

from __future__ import annotations

import pytest

from protocols.errors import ProtocolFault
from protocols.load import read_protocol

FIGURE = '{ value = %s, source = "invented", how = "facility" }'


def _figures(text: str) -> str:
    """Write each `name = #12` as a whole figure."""
    lines = []
    for line in text.splitlines():
        name, mark, value = line.partition(" = #")
        lines.append(f"{name} = {FIGURE % value}" if mark else line)
    return "\n".join(lines) + "\n"


GOOD = _figures("""\
id = "good"
title = "Good"
family = "bronchoscope"
spoken = "good"
version = 1
channels = ["suction channel"]
disinfect_by = "soak"
claims = ["opa-055-20c"]
cautions = ["The IFU wins."]
hang_s_max = #86400
short_clean_s = #420
[delay]
origin = "procedure-end"
limit_s_max = #3600
warn_s = #1800
[[step]]
id = "ppe"
stage = "prepare"
kind = "look"
says = "Put on PPE."
needs = ["ppe"]
outcomes = { on = "next" }
[[step]]
id = "leak-test"
stage = "leak test"
kind = "look"
says = "Test for leaks."
outcomes = { tight = "next", leak = "leak" }
[[step]]
id = "immerse"
stage = "clean"
kind = "look"
says = "Immerse."
bath = "detergent"
begins_cleaning = true
records = ["temp_c"]
temp_c_min = #20
temp_c_max = #35
outcomes = { under = "next" }
[[step]]
id = "extended"
stage = "clean"
kind = "soak"
says = "Soak longer."
when = "delayed"
bath = "detergent"
soak_s_min = #600
soak_s_max = #3600
[[step]]
id = "brush"
stage = "clean"
kind = "pass"
says = "Brush the channel."
[[step]]
id = "rinse"
stage = "rinse"
kind = "count"
says = "Rinse."
ends_cleaning = true
times = #1
[[step]]
id = "inspect"
stage = "inspect"
kind = "look"
says = "Inspect."
outcomes = { clean = "next", debris = "back:immerse" }
[[step]]
id = "verify"
stage = "inspect"
kind = "reading"
says = "Take a reading."
optional = true
fail_back_to = "immerse"
[[step.limit]]
method = "protein"
meter = "any"
unit = "µg/cm²"
alert_from = #3
action_from = #6.4
[[step.limit]]
method = "ATP"
meter = "meter A"
unit = "RLU"
pass_to = #100
[[step]]
id = "machine"
stage = "disinfect"
kind = "machine run"
says = "Run the machine."
when = "machine"
run_s_min = #1200
run_s_max = #3600
[[step]]
id = "hld"
stage = "disinfect"
kind = "soak"
says = "Soak in disinfectant."
when = "soak"
bath = "disinfectant"
needs = ["under", "filled", "parts"]
over_s_max = #600
[[step]]
id = "final"
stage = "final rinse"
kind = "count"
says = "Rinse again."
when = "soak"
needs = ["fresh"]
times = #3
[[step]]
id = "alcohol"
stage = "dry"
kind = "count"
says = "Flush with alcohol."
optional = true
records = ["alcohol_pct"]
times = #1
alcohol_pct_min = #70
alcohol_pct_max = #90
[[step]]
id = "air"
stage = "dry"
kind = "soak"
says = "Dry by air."
bath = "air"
soak_s_min = #600
[[step]]
id = "store"
stage = "store"
kind = "look"
says = "Hang it."
outcomes = { hung = "next" }
[[step]]
id = "tag"
stage = "repair"
kind = "look"
says = "Tag it."
when = "leak"
needs = ["tag"]
records = ["owner"]
outcomes = { handed = "out" }
""")


def step_text(step_id: str) -> str:
    """Promise the text of one step of GOOD, its heading included."""
    return next("[[step]]\n" + part for part in GOOD.split("[[step]]\n")[1:] if part.startswith(f'id = "{step_id}"'))


def fig(name: str, value: object) -> str:
    return f"{name} = {FIGURE % value}\n"


def in_step(step_id: str, old: str, new: str) -> str:
    """Promise GOOD with one change within one step."""
    before = step_text(step_id)
    if before.count(old) != 1:
        raise ValueError(f"{old!r} stands {before.count(old)} times in step {step_id}")
    return GOOD.replace(before, before.replace(old, new))


def at_top(old: str, new: str) -> str:
    if GOOD.count(old) != 1:
        raise ValueError(f"{old!r} stands {GOOD.count(old)} times")
    return GOOD.replace(old, new)


def added(step_id: str, line: str) -> str:
    """Promise GOOD with one more line at the end of a step that has no [[step.limit]]."""
    return in_step(step_id, step_text(step_id), step_text(step_id) + line.rstrip("\n") + "\n")


def without(step_id: str) -> str:
    return GOOD.replace(step_text(step_id), "")


def moved(step_id: str, before: str) -> str:
    """Promise GOOD with one step standing before another."""
    text = step_text(step_id)
    return without(step_id).replace(step_text(before), text + step_text(before))


def findings(text: str) -> list[str]:
    """Promise the findings that a faulty text gives, in order."""
    with pytest.raises(ProtocolFault) as caught:
        read_protocol(text, "f.toml")
    return [str(finding) for finding in caught.value.findings]
