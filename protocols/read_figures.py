"""Reading TOML tables key by key: every getter either gives a value of the promised type or notes a finding.

Nothing here raises for what an author wrote. Faults are collected, so that one `check` names all of them; the
caller raises `ProtocolFault` at the end. Values are never shown whole: a torn or hostile file can hold very
long ones.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection
from dataclasses import dataclass

from protocols.errors import Finding
from protocols.model import HOW_KNOWN, Figure

TEXT_LONGEST = 300
_KEBAB = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
_ID_LONGEST = 40


def shown(value: object) -> str:
    """Promise a short text for any TOML value, safe on one line of a finding."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) > 10**15:
        # Very long integers can't be turned into text quickly (or at all), so the size is all that is said.
        return "a number beyond 1e15"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return ascii_safe(value, 40)
    if isinstance(value, list):
        return "a list"
    return "a table" if isinstance(value, dict) else "a date or time"


def ascii_safe(text: str, longest: int) -> str:
    """Promise the text in double quotes, cut to `longest` characters, with nothing that breaks a line."""
    cut = text if len(text) <= longest else text[: longest - 3] + "..."
    return '"' + "".join(c if c.isprintable() else "?" for c in cut) + '"'


def is_id(text: str) -> bool:
    """Promise whether it is an id: lower case words and digits joined by hyphens, 40 characters at most."""
    return len(text) <= _ID_LONGEST and _KEBAB.fullmatch(text) is not None


def bounds(name: str) -> tuple[float, float]:
    """Promise the widest range of a figure of that name, by the unit at the end of the name.

    These bounds only catch slips (minutes for seconds, a comma lost); they are no trade facts.
    """
    if name in ("times", "rinse_times"):
        return 1, 50
    if "_pct" in name or "temp_c" in name:
        return 0, 100
    if name.endswith("_ml"):
        return 1, 5_000
    if "_d_" in name:
        return 1, 3_660
    if name.endswith(("_s", "_s_min", "_s_max")):
        return 1, 400 * 86_400
    return 0, 1e9


@dataclass(frozen=True, slots=True)
class Table:
    """One TOML table at `path` in `file`; faults go to the shared list `findings`."""

    data: dict[str, object]
    path: str
    file: str
    findings: list[Finding]

    def fault(self, name: str, rule: str, remedy: str) -> None:
        key = f"{self.path}.{name}" if self.path and name else self.path or name
        self.findings.append(Finding(self.file, key, rule, remedy))

    def only(self, known: Collection[str]) -> None:
        """Note a finding for each key that is not `known`, with the nearest known one as remedy."""
        for name in self.data:
            if name not in known:
                near = difflib.get_close_matches(name[:60], known, 1)
                remedy = f'did you mean "{near[0]}"?' if near else "take it out"
                self.fault(ascii_safe(name, 40).strip('"'), "is not a key that is known here", remedy)

    def missing(self, name: str, remedy: str) -> None:
        self.fault(name, "is missing", remedy)

    def text(self, name: str, longest: int = TEXT_LONGEST, needed: bool = True) -> str:
        """Promise a printable text of one line and at most `longest` characters, or "" with a finding."""
        if name not in self.data:
            if needed:
                self.missing(name, "write a text in quotes")
            return ""
        return self._text(name, self.data[name], longest)

    def _text(self, name: str, value: object, longest: int) -> str:
        if not isinstance(value, str):
            self.fault(name, f"{shown(value)} is not a text", "write a text in quotes")
        elif not value.strip():
            self.fault(name, "is empty", "write a text in quotes")
        elif len(value) > longest:
            self.fault(name, f"has {len(value)} characters", f"shorten it to {longest}")
        elif not value.isprintable():
            self.fault(name, "holds a line break or another unprintable character", "write it on one line")
        else:
            return value
        return ""

    def name(self, name: str) -> str:
        """Promise an id (see `is_id`), or "" with a finding."""
        value = self.text(name)
        if value and not is_id(value):
            self.fault(
                name, f"{shown(value)} is not an id",
                f'use lower case words joined by hyphens, at most {_ID_LONGEST} characters, like "leak-test"',
            )  # fmt: skip
            return ""
        return value

    def word(self, name: str, choices: Collection[str], default: str | None = None) -> str:
        """Promise one of `choices`, or "" with a finding; `default` stands in for a missing key."""
        if name not in self.data and default is not None:
            return default
        value = self.text(name)
        if value and value not in choices:
            self.fault(name, f"{shown(value)} is not known", f"use one of: {', '.join(choices)}")
            return ""
        return value

    def flag(self, name: str, default: bool = False) -> bool:
        value = self.data.get(name, default)
        if isinstance(value, bool):
            return value
        self.fault(name, f"{shown(value)} is not true or false", "write true or false without quotes")
        return default

    def whole(self, name: str, low: int, high: int) -> int:
        """Promise an integer from `low` to `high`, or `low` with a finding."""
        value = self.data.get(name)
        if name not in self.data:
            self.missing(name, f"write a whole number from {low} to {high}")
        elif isinstance(value, bool) or not isinstance(value, int):
            self.fault(name, f"{shown(value)} is not a whole number", f"write a whole number from {low} to {high}")
        elif not low <= value <= high:
            self.fault(name, f"{shown(value)} is outside {low} to {high}", "write a number within")
        else:
            return value
        return low

    def texts(self, name: str, most: int, needed: bool = False, longest: int = TEXT_LONGEST) -> tuple[str, ...]:
        """Promise a tuple of at most `most` different texts, without those that gave a finding."""
        value = self.data.get(name, [])
        if name not in self.data and needed:
            self.missing(name, "write a list in square brackets; [] when there are none")
        if not isinstance(value, list):
            self.fault(name, f"{shown(value)} is not a list", "write it in square brackets")
            return ()
        if len(value) > most:
            self.fault(name, f"has {len(value)} entries", f"shorten it to {most}")
            return ()
        read: list[str] = []
        for number, entry in enumerate(value, 1):
            text = self._text(f"{name}[{number}]", entry, longest)
            if text in read:
                self.fault(f"{name}[{number}]", f"{shown(text)} stands there twice", "take one out")
            elif text:
                read.append(text)
        return tuple(read)

    def words(self, name: str, choices: Collection[str]) -> tuple[str, ...]:
        """Promise a tuple of different words out of `choices`."""
        read = self.texts(name, 20)
        for text in read:
            if text not in choices:
                self.fault(name, f"{shown(text)} is not known", f"use one of: {', '.join(choices)}")
        return tuple(t for t in read if t in choices)

    def table(self, name: str, remedy: str) -> Table | None:
        """Promise the table under that key, or None with a finding."""
        value = self.data.get(name)
        if name not in self.data:
            self.missing(name, remedy)
        elif not isinstance(value, dict):
            self.fault(name, f"{shown(value)} is not a table", remedy)
        else:
            return Table(value, f"{self.path}.{name}" if self.path else name, self.file, self.findings)
        return None

    def rows(self, name: str, most: int) -> list[Table]:
        """Promise the tables of `[[name]]`, with paths like `step[7] "brush-suction"`, counted from 1."""
        value = self.data.get(name, [])
        remedy = f"write at least one [[{name}]]"
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            self.fault(name, "is not a list of tables", remedy)
        elif not value:
            self.missing(name, remedy)
        elif len(value) > most:
            self.fault(name, f"has {len(value)} entries", f"at most {most} are read; split the file")
        else:
            return [self._row(name, number, row) for number, row in enumerate(value, 1)]
        return []

    def _row(self, name: str, number: int, row: dict[str, object]) -> Table:
        row_id = row.get("id")
        label = f"{name}[{number}]" + (f" {ascii_safe(row_id, _ID_LONGEST)}" if isinstance(row_id, str) else "")
        return Table(row, f"{self.path}.{label}" if self.path else label, self.file, self.findings)

    def figure(self, name: str, needed: bool = False) -> Figure | None:
        """Promise a number with its source and how it is known, or None (when not right: a finding)."""
        remedy = 'write { value = 600, source = "where it stands", how = "IFU" }'
        if name not in self.data and not needed:
            return None
        inner = self.table(name, remedy)
        if inner is None:
            return None
        before = len(self.findings)
        inner.only(("value", "source", "how"))
        source = inner.text("source")
        how = inner.word("how", HOW_KNOWN)
        value = inner.number("value", *bounds(name), whole=name in ("times", "rinse_times"))
        return Figure(value, source, how) if len(self.findings) == before else None

    def number(self, name: str, low: float, high: float, whole: bool = False) -> float:
        """Promise a finite number from `low` to `high`, or `low` with a finding."""
        value = self.data.get(name)
        remedy = "write the figure of the IFU or label, in the unit at the end of the key"
        if name not in self.data:
            self.missing(name, remedy)
        elif isinstance(value, bool) or not isinstance(value, int | float):
            self.fault(name, f"{shown(value)} is not a number", remedy)
        elif isinstance(value, float) and not math.isfinite(value):
            self.fault(name, f"{value} is not a finite number", remedy)
        elif not low <= value <= high:
            self.fault(name, f"{shown(value)} is outside {low:g} to {high:.10g}", remedy)
        elif whole and value != int(value):
            self.fault(name, f"{shown(value)} is not a whole number", remedy)
        else:
            # Whole numbers stay whole, so that the record spells 600 s as 600.
            return int(value) if value == int(value) else float(value)
        return low
