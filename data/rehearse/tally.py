"""What a rehearsed shift came to: the closing table."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from statistics import median

from data.prompt_text import level_name
from data.rehearse.scene import ZONE
from protocols.clock import Stamp, clock_text, iso_week, longest_s
from protocols.event import Command, Event
from protocols.prompts import Call
from protocols.refusals import Refusal
from protocols.unit import Unit


@dataclass
class Tally:
    """Counts of one shift. Turnaround is from receipt to the end of the cycle, in seconds."""

    received: int = 0
    accepted: int = 0
    ended: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    refused_weeks: Counter[tuple[str, str]] = field(default_factory=Counter)
    repeats: Counter[str] = field(default_factory=Counter)
    late: Counter[str] = field(default_factory=Counter)
    prompts: Counter[str] = field(default_factory=Counter)
    turnaround_s: dict[str, list[float]] = field(default_factory=dict)
    opened: dict[str, tuple[Stamp, str]] = field(default_factory=dict)
    unfinished: list[str] = field(default_factory=list)
    away: list[tuple[Stamp, Stamp]] = field(default_factory=list)

    def told(self, command: Command, answer: object, now: Stamp) -> None:
        """Count one answer of the door."""
        if isinstance(answer, Refusal):
            self.refused[answer.key] += 1
            self.refused_weeks[iso_week(now.wall_ms, ZONE), answer.key] += 1
            return
        if not isinstance(answer, Event):
            return
        self.accepted += 1
        data = answer.data
        if answer.kind == "receive":
            self.opened[command.subject] = (now, str(data["family"]))
        self._repeats(answer)
        if data.get("start_late_s"):
            self.late[f"begun late: {data['step']}"] += 1
        if data.get("late_s"):
            away = ", called away since before it was ready" if self._was_away(answer, now) else ""
            self.late[f"lifted late: {data['step']}{away}"] += 1
        if data.get("delayed") and answer.kind == "look":
            self.late["cleaned past the delay limit, or delay unknown"] += 1
        if data.get("ends"):
            self._end(answer, now)

    def _was_away(self, lift: Event, now: Stamp) -> bool:
        """Whether the hands were away from before a soak was ready until past its limit, which no order avoids."""
        ready_s = float(lift.data["contact_s"]) - float(lift.data["required_s"])
        late_s = float(lift.data["late_s"])
        return any(longest_s(left, now) >= ready_s and longest_s(back, now) <= late_s for left, back in self.away)

    def _repeats(self, event: Event) -> None:
        data = event.data
        if event.kind == "pass" and data["debris"] == "seen":
            self.repeats["brush pass, debris seen"] += 1
        elif event.kind == "look" and data["outcome"] == "debris":
            self.repeats[f"{data['step']}, debris seen"] += 1
        elif event.kind in ("undo", "interrupt"):
            self.repeats[event.kind] += 1
        elif event.kind == "decide" and str(data["decision"]).endswith("again"):
            self.repeats[str(data["decision"])] += 1
        elif event.kind == "check" and not data["dry"]:
            self.repeats["still wet"] += 1
        elif data.get("verdict") == "fail":
            self.repeats["reading failed, cleaned again"] += 1

    def _end(self, event: Event, now: Stamp) -> None:
        self.ended[str(event.data["ends"])] += 1
        opened, family = self.opened.pop(event.subject, (now, ""))
        if event.data["ends"] == "completed":
            self.turnaround_s.setdefault(family, []).append(longest_s(opened, now))

    def called(self, call: Call) -> None:
        """Count one prompt's calls."""
        self.prompts[level_name(call.prompt)] += call.times

    def close(self, unit: Unit) -> None:
        """Note what was still under way at the end."""
        self.unfinished = [f"{c.scope} at {c.step}" for c in unit.cycles.values()]

    def lines(self) -> list[str]:
        """Promise the closing table, line by line."""
        out = ["", "cycles"]
        out += [f"  {name:<44}{count:>5}" for name, count in [("received", self.received), *sorted(self.ended.items())]]
        out += [f"  {'still under way':<44}{len(self.unfinished):>5}  {', '.join(self.unfinished)}".rstrip()]
        out += ["turnaround, receipt to storage                  median   longest"]
        for family, times in sorted(self.turnaround_s.items()):
            out.append(f"  {family:<44}{clock_text(median(times)):>8}  {clock_text(max(times)):>8}  ({len(times)})")
        for title, counts in (("lates", self.late), ("refusals", self.refused), ("repeats", self.repeats)):
            out.append(f"{title}" + ("" if counts else ": none"))
            out += [f"  {name:<44}{count:>5}" for name, count in sorted(counts.items(), key=lambda x: (-x[1], x[0]))]
        out.append("prompts called")
        out += [f"  {name:<44}{self.prompts[name]:>5}" for name in ("soon", "ready", "late", "very late")]
        out.append(f"commands accepted {self.accepted}")
        return out
