"""Writes the tables of README.md and DEVELOPERS.md from the code they describe: python3 -m tests.docs"""

from __future__ import annotations

from pathlib import Path

from protocols.commands import SPECS, Value
from protocols.cycle import TABLE_TEXT

ROOT = Path(__file__).parent.parent
END = "<!-- end -->"


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


BLOCKS = {
    "README.md": ("<!-- commands: written by python3 -m tests.docs -->", commands_table),
    "DEVELOPERS.md": ("<!-- states: written by python3 -m tests.docs -->", state_table),
}


def written(name: str) -> str:
    """Promise the document with its block as the code has it now."""
    text = (ROOT / name).read_text(encoding="utf-8")
    mark, table = BLOCKS[name]
    head, rest = text.split(mark, 1)
    return f"{head}{mark}\n{table()}\n{END}{rest.split(END, 1)[1]}"


if __name__ == "__main__":
    for document in BLOCKS:
        (ROOT / document).write_text(written(document), encoding="utf-8")
