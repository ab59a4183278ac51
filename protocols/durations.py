"""How long the hands are busy at a step: the unit's own times where there are enough, shipped guesses before that.

A time is named by its protocol's family and its step. It is work on one scope without waiting: what the record shows
between two taps with nothing between them (`data/durations.py` takes them from the ledger). Work that was broken off,
or still goes on, counts as longer than what was seen of it, and is not dropped.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log
from random import Random
from statistics import NormalDist
from typing import Any, NamedTuple

from protocols.errors import Finding, ProtocolFault
from protocols.load import parsed
from protocols.model import HOW_KNOWN, Step
from protocols.survival import Point, product_limit, share_beyond, time_of

# Own times weigh as much as the guess once there are so many of them: own figure.
PRIOR_WEIGHT = 6
# Per step and family only so many times are kept, the newest: people and scopes change.
KEPT = 60
_NINE_OF_TEN = NormalDist().inv_cdf(0.9)
GUESSES_MOST = 200
UPSETS = ("cleaned_again_share", "wet_again_share", "called_away_share", "called_away_s",
          "unforeseen_spread", "unforeseen_s", "turned_share", "turned_spread")  # fmt: skip


class Seen(NamedTuple):
    """One stretch of work: its length in seconds, and whether it came to its end (False: it took longer than that)."""

    length_s: float
    ended: bool


class Guess(NamedTuple):
    """A shipped guess: half of all times are below `typical_s`, nine of ten below `most_s` (a log-normal spread)."""

    typical_s: float
    most_s: float
    source: str
    how: str

    @property
    def spread(self) -> float:
        return log(self.most_s / self.typical_s) / _NINE_OF_TEN

    def time(self, beyond: float) -> float:
        """Promise the time that a share `beyond` of all times outlasts."""
        return self.typical_s * exp(-self.spread * NormalDist().inv_cdf(min(max(beyond, 1e-6), 1 - 1e-6)))

    def beyond(self, length_s: float) -> float:
        """Promise the share of times longer than that."""
        if length_s <= 0:
            return 1.0
        return 1 - NormalDist(log(self.typical_s), self.spread).cdf(log(length_s))


@dataclass(frozen=True)
class Durations:
    """Guesses by what is done, upsets by name, and the unit's own times by (family, step id)."""

    guesses: Mapping[str, Guess]
    upsets: Mapping[str, float]
    own: Mapping[tuple[str, str], Sequence[Seen]] = field(default_factory=dict)
    _points: dict[tuple[str, str], list[Point]] = field(default_factory=dict, compare=False)

    def guess(self, step: Step, what: str) -> Guess:
        """Promise the guess for a step: its own where there is one, else that of what is done."""
        return self.guesses.get(step.id) or self.guesses[what]

    def typical_s(self, family: str, step: Step, what: str, times: int = 1) -> float:
        """Promise the length that half of all visits to the step stay below, for so many counts of it.

        Own times of a counted step are of its whole visit, so they are not multiplied.
        """
        guess, points = self.guess(step, what), self._own(family, step, what)
        shipped = guess.time(0.5) * times
        middle = time_of(points, 0.5)
        if middle is None:
            return shipped
        weight = self._weight(family, step)
        return weight * middle + (1 - weight) * shipped

    def draw_s(self, family: str, step: Step, what: str, chance: Random, times: int = 1, already_s: float = 0) -> float:
        """Promise one random length of a visit that has lasted `already_s`: an own time or a guess, by their weight."""
        points = self._own(family, step, what)
        level = chance.random()
        own = chance.random() < self._weight(family, step)
        guess = self.guess(step, what)
        if own and points:
            drawn = time_of(points, level * share_beyond(points, already_s))
            if drawn is not None:
                return max(drawn, already_s)
            already_s = max(already_s, points[-1].at)
        return max(already_s, guess.time(level * guess.beyond(already_s / times)) * times)

    def count(self, family: str, step: Step) -> int:
        """Promise how many own times of a step came to their end."""
        return sum(1 for seen in self.own.get((family, step.id), ()) if seen.ended)

    def _weight(self, family: str, step: Step) -> float:
        own = self.count(family, step)
        return own / (own + PRIOR_WEIGHT)

    def _own(self, family: str, step: Step, what: str) -> list[Point]:
        # The end of a soak is never seen as work alone: the tap before it is the soak's start.
        key = (family, step.id)
        seen = self.own.get(key, ())
        if what == "end" or not seen:
            return []
        if key not in self._points:
            self._points[key] = product_limit([s.length_s for s in seen], [s.ended for s in seen])
        return self._points[key]

    def with_own(self, own: Mapping[tuple[str, str], Sequence[Seen]]) -> Durations:
        """Promise the same guesses with these own times, of each step the newest KEPT."""
        return Durations(self.guesses, self.upsets, {key: tuple(seen)[-KEPT:] for key, seen in own.items()})


def read_durations(text: str, file: str) -> Durations:
    """Promise the shipped guesses of a TOML text; ProtocolFault naming every fault.

    Raises ProtocolFault when a kind of work has no guess, a figure is missing, not above 0, or without its source.
    """
    table = parsed(text, file)
    top, faults = table.data, table.findings
    guesses: dict[str, Guess] = {}
    for row in table.rows("hands", GUESSES_MOST):
        found = _guess(row.data, file, row.path, faults)
        if found is not None:
            guesses[found[0]] = found[1]
    upsets = _upsets(top.get("upsets", {}), file, faults)
    missing = sorted(WHATS - set(guesses))
    if missing:
        faults.append(Finding(file, "hands", f"there is no guess for {', '.join(missing)}", "add it"))
    if faults:
        raise ProtocolFault(faults)
    return Durations(guesses, upsets)


WHATS = frozenset((
    "look", "pass", "count", "reading", "start detergent", "start disinfectant", "start air", "start machine run",
    "end",
))  # fmt: skip


def _guess(row: Mapping[str, Any], file: str, key: str, faults: list[Finding]) -> tuple[str, Guess] | None:
    wanted = {"what", "typical_s", "most_s", "source", "how"}
    if set(row) != wanted:
        faults.append(Finding(file, key, f"a guess has {', '.join(sorted(wanted))}", "give these, no others"))
        return None
    typical, most = row["typical_s"], row["most_s"]
    if not all(isinstance(x, int | float) and not isinstance(x, bool) for x in (typical, most)):
        faults.append(Finding(file, key, "typical_s and most_s are numbers of seconds", "give numbers"))
        return None
    if not 0 < typical < most < 86_400:
        faults.append(Finding(file, key, f"{typical} s, {most} s: not 0 < typical < most < a day", "correct it"))
        return None
    if row["how"] not in HOW_KNOWN or not row["source"]:
        faults.append(Finding(file, key, "a guess names its source and how it is known", "give both"))
    return str(row["what"]), Guess(float(typical), float(most), str(row["source"]), str(row["how"]))


def _upsets(table: Any, file: str, faults: list[Finding]) -> dict[str, float]:
    found: dict[str, float] = {}
    for name in UPSETS:
        row = table.get(name) if isinstance(table, dict) else None
        value = row.get("value") if isinstance(row, dict) else None
        most = 1 if name.endswith("_share") else 86_400
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value <= most:
            faults.append(Finding(file, f"upsets.{name}", f"it is {value!r}, not from 0 to {most}", "give a number"))
            continue
        if not isinstance(row, dict) or not row.get("source") or row.get("how") not in HOW_KNOWN:
            faults.append(Finding(file, f"upsets.{name}", "it names its source and how it is known", "give both"))
        found[name] = float(value)
    return found
