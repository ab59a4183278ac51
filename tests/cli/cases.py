"""A small day as replay lines, for tests through the command line."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

START = datetime.fromisoformat("2026-11-25T08:00:00+01:00")


class Day:
    """Replay lines one after another; `at` moves by seconds, each line is given by ann unless said otherwise."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.at = START

    def wait(self, seconds: float) -> Day:
        self.at += timedelta(seconds=seconds)
        return self

    def give(self, do: str, subject: str, by: str = "ann", **values: object) -> Day:
        self.wait(1)
        line = {"at": self.at.isoformat(), "do": do, "subject": subject, "values": values, "by": by}
        self.lines.append(json.dumps(line))
        return self

    def clock(self, **values: float) -> Day:
        self.wait(1)
        self.lines.append(json.dumps({"at": self.at.isoformat(), "do": "clock", "values": values}))
        self.at += timedelta(seconds=sum(v for k, v in values.items() if k != "step_s"))
        return self

    def text(self) -> str:
        return "".join(line + "\n" for line in self.lines)


def opened() -> Day:
    """A unit with a lead, two bronchoscopes and a bath of each kind; B2 is received ten minutes after its procedure."""
    day = Day()
    day.give("set-unit", "unit", zone="Europe/Berlin").give("add-person", "ann", name="Ann", role="lead")
    day.give("adopt-protocol", "bronchoscope-1").give("add-scope", "B2", protocol="bronchoscope-1")
    day.give("add-scope", "B4", protocol="bronchoscope-1")
    dates = {"expires": "2027-06-01", "opened": "2026-11-20"}
    day.give("pour-bath", "W1", kind="detergent", lot="D-1", **dates)
    day.give("register-strips", "S1", type="OPA 0.3 %", expires="2028-06-01", opened="2026-11-20")
    day.give("strip-control", "S1", positive=3, negative=3)
    day.give("pour-bath", "H4", kind="disinfectant", claim="opa-055-20c", lot="H-1", **dates)
    return received(day, "B2", "26-1")


def received(day: Day, tag: str, case: str) -> Day:
    ended = (day.at - timedelta(minutes=10)).isoformat()
    return day.give(
        "receive", tag, case=case, procedure_date="2026-11-25", procedure_type="bronchoscopy", procedure_end=ended,
        precleaned="yes", preclean_end=(day.at - timedelta(minutes=7)).isoformat(),
    )  # fmt: skip


def to_disinfectant(day: Day, tag: str = "B2", bath: str = "W1") -> Day:
    """The shipped bronchoscope protocol up to its disinfectant soak, each step as it should go."""
    day.wait(20).give("look", tag, outcome="ready", ppe=True)
    day.wait(20).give("look", tag, outcome="apart")
    day.wait(60).give("look", tag, outcome="tight", cap=True, pressurised=True, vented=True)
    day.wait(20).give("look", tag, outcome="under", bath=bath, temp_c=30, under=True)
    for _ in range(3):
        day.wait(40).give("look", tag, outcome="clean")
    for _ in range(4):
        day.wait(40).give("pass", tag, debris="seen").wait(40).give("pass", tag, debris="none", brush=True)
    for _ in range(3):
        day.wait(20).give("count", tag)
    day.wait(10).give("start", tag, bath=bath, temp_c=30, under=True, filled=True, parts=True)
    day.wait(120).give("lift", tag)
    day.wait(30).give("count", tag, fresh=True, water="tap")
    for _ in range(6):
        day.wait(20).give("count", tag, fresh=True, water="tap")
    day.wait(60).give("look", tag, outcome="clean")
    return day.wait(20).give("skip", tag, reason="not due")
