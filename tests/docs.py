"""Writes the tables of README.md and DEVELOPERS.md from the code they describe: python3 -m tests.docs"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from protocols.commands import SPECS, Value
from protocols.cycle import TABLE_TEXT
from tests.bench.__main__ import table

ROOT = Path(__file__).parent.parent
END = "<!-- end -->"
# Written by `python3 -m tests.bench --json tests/bench/last.json` on a quiet machine.
LAST_RUN = ROOT / "tests" / "bench" / "last.json"


def commands_table() -> str:
    """Promise the README's table of every command and its values."""
    rows = ["| command | on | who | does | values |", "|---|---|---|---|---|"]
    for name, spec in SPECS.items():
        values = "; ".join(_value(key, value) for key, value in spec.values.items()) or "none"
        who = "administrator" if spec.admin else "lead" if spec.lead else "anybody on the list"
        who = "nobody signed in yet (by `unconfirmed`)" if spec.open else who
        rows.append(f"| `{name}` | {spec.on} | {who} | {spec.means} | {values} |")
    return "\n".join(rows)


def _value(name: str, value: Value) -> str:
    if value.type == "choice":
        kind = " \\| ".join(value.choices)
    elif value.low is not None and value.high is not None:
        kind = f"{value.low:g} to {value.high:g}"
    else:
        kind = {"bool": "true/false", "toml": "TOML text"}.get(value.type, value.type)
    shown = f"**{name}**" if value.required else name
    return f"{shown} ({kind}): {value.means}"


def state_table() -> str:
    """Promise the engine's table as DEVELOPERS.md shows it."""
    return "```text\n" + TABLE_TEXT.strip() + "\n```"


def measured_table() -> str:
    """Promise the README's table of the last kept run of the benches, with the machine's class and what it missed."""
    last = json.loads(LAST_RUN.read_text(encoding="utf-8"))
    rows = [row for bench in last["benches"] for row in bench["rows"]]
    judged = [row for row in rows if row["met"] is not None]
    missed = [row["what"] for row in judged if not row["met"]]
    peaks = ", ".join(f"{bench['bench']} {bench['peak_mb']} MB" for bench in last["benches"])
    kept = f"{len(judged) - len(missed)} of {len(judged)} limits are kept."
    if missed:
        kept += f" Missed: {'; '.join(missed)}."
    return f"{kept} Machine: {last['machine']}. Peak memory of each bench: {peaks}.\n\n{table(last['benches'])}"


BLOCKS: dict[str, dict[str, Callable[[], str]]] = {
    "README.md": {"commands": commands_table, "measured": measured_table},
    "DEVELOPERS.md": {"states": state_table},
}


def written(name: str) -> str:
    """Promise the document with its blocks as the code, and the last kept run of the benches, have them now."""
    text = (ROOT / name).read_text(encoding="utf-8")
    for block, made in BLOCKS[name].items():
        mark = f"<!-- {block}: written by python3 -m tests.docs -->"
        head, rest = text.split(mark, 1)
        text = f"{head}{mark}\n{made()}\n{END}{rest.split(END, 1)[1]}"
    return text


if __name__ == "__main__":
    for document in BLOCKS:
        (ROOT / document).write_text(written(document), encoding="utf-8")
