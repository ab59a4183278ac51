"""No sequence of entries makes an expired, failed or untested bath usable: held against a plain account of its own.

The account knows only what is true of each bath: its true age, what its labels said, which strips of which bottle were
read in it for whom and in which order, and what was poured in. Whatever was tapped before, a soak that the engine
starts must be one that the account allows.
"""

from __future__ import annotations

from datetime import date, timedelta
from random import Random
from typing import Any

from driver import Bench
from hypothesis import given, settings
from hypothesis import strategies as st

from protocols.errors import CommandFault
from protocols.event import Event

DAY = 86_400
# Published lives of the two claims, held here again (CDC-T4; LBL3 for the bottle): reuse and opened life in days.
LIVES = {"opa-055-20c": (14, 75), "glut-2-label-25c": (14, None)}
TYPES = {"opa-055-20c": "OPA 0.3 %", "glut-2-label-25c": "glutaraldehyde 1.5 %"}
LABELS, BOTTLES, TAGS = ("H4", "H5"), ("S1", "S2", "S3"), ("B2", "B3")


class Account:
    """True facts, kept apart from the engine's state."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.bench = Bench(ready=True)
        self.bench.watched = False
        self.baths: dict[str, dict[str, Any]] = {}
        self.bottles: dict[str, dict[str, Any]] = {}
        self.started = self.refused = self.off_s = 0
        for label in LABELS:
            self.bench.give("close-bath", label, reason="the account begins with none")

    def day(self) -> date:
        """The true date, whatever the handheld's clock was set to."""
        return date(1970, 1, 1) + timedelta(milliseconds=self.bench.clock.true_ms)

    def about(self, days: int) -> str:
        return (self.day() + timedelta(days=days)).isoformat()

    def step(self) -> None:
        name = self.chance.choice(
            ("pour", "bottle", "control", "strip", "strip", "start", "start", "top", "close", "time", "clock", "reboot",
             "correct", "undo", "again", "in_order", "in_order", "in_order")
        )  # fmt: skip
        getattr(self, name)()

    def give(self, do: str, subject: str, **values: Any) -> Event | None:
        try:
            answer = self.bench.give(do, subject, **values)
        except CommandFault:
            return None
        return answer if isinstance(answer, Event) else None

    def clock_right(self) -> None:
        """Dates are written down under a clock that is right; it may be wrong again at once."""
        self.bench.clock.step(-self.off_s)
        self.off_s = 0

    def in_order(self) -> None:
        """What somebody does who does it right, with now and then anything else in between."""
        tag, label, bottle = self.chance.choice(TAGS), self.chance.choice(LABELS), self.chance.choice(BOTTLES)
        if tag not in self.bench.unit.cycles or self.bench.cycle(tag).step != "disinfectant-soak":
            self._bring(tag)
        claim = self.chance.choice(list(LIVES))
        fresh = self.baths.get(label) is None or self.chance.random() < 0.6
        if not fresh:
            claim = self.baths[label]["claim"]
        for do in (
            *((lambda: self.close(label), lambda: self.pour(label, claim)) if fresh else ()),
            self.perhaps_topped, lambda: self.bottle(bottle, claim), lambda: self.control(bottle), self.perhaps_late,
            lambda: self.strip(label, tag, bottle), self.perhaps_topped, lambda: self.start(tag, label),
        ):  # fmt: skip
            if self.chance.random() < 0.15:
                self.step()
            if self.chance.random() < 0.93:
                do()

    def perhaps_late(self) -> None:
        """Now and then days pass, under a clock that was set back by as many or more."""
        if self.chance.random() < 0.3:
            _ = self.bench.now
            self.bench.clock.step(-20 * DAY)
            self.off_s -= 20 * DAY
            self.bench.wait(self.chance.choice((DAY, 3 * DAY, 3 * DAY, 16 * DAY)))

    def perhaps_topped(self) -> None:
        if self.chance.random() < 0.15:
            self.top()

    def pour(self, label: str = "", claim: str = "") -> None:
        self.clock_right()
        good = bool(label)
        label, claim = label or self.chance.choice(LABELS), claim or self.chance.choice(list(LIVES))
        given = {"expires": self.about(self.chance.choice((2, 40) if good else (-1, 0, 2, 40))),
                 "opened": self.about(self.chance.choice((0, -5) if good else (0, -5, -80)))}  # fmt: skip
        activated = {"activated": given["opened"]} if good or self.chance.random() < 0.8 else {}
        if self.give("pour-bath", label, kind="disinfectant", claim=claim, lot="L", **given, **activated):
            begun = date.fromisoformat(activated.get("activated", self.about(0)))
            self.baths[label] = {
                "claim": claim, "activated": bool(activated), "begun": min(begun, self.day()), "tests": {},
                "open": True, "failed": False, **{name: date.fromisoformat(text) for name, text in given.items()},
            }  # fmt: skip

    def top(self) -> None:
        self.clock_right()
        label = self.chance.choice(LABELS)
        given = {
            "expires": self.about(self.chance.choice((1, 400))),
            "opened": self.about(0),
            "activated": self.about(0),
        }
        if self.give("top-up", label, lot="L", **given):
            bath = self.baths[label]
            bath["expires"] = min(bath["expires"], date.fromisoformat(given["expires"]))
            bath["tests"] = {}

    def bottle(self, label: str = "", claim: str = "") -> None:
        self.clock_right()
        label, claim = label or self.chance.choice(BOTTLES), claim or self.chance.choice(list(TYPES))
        self.give("close-strips", label, reason="r")
        given = {"opened": self.about(0), "expires": self.about(self.chance.choice((1, 30))), "read_s_to": 90,
                 "opened_d": self.chance.choice((2, 60)), "type": TYPES[claim]}  # fmt: skip
        if self.give("register-strips", label, lot=f"lot {self.bench.unit.seq}", **given):
            one = self.bench.unit.strips[label]
            life = self.day() + timedelta(days=int(one.opened_d_max or 0))
            self.bottles[label] = {"type": one.type, "last": min(date.fromisoformat(one.expires), life), "good": False}

    def control(self, label: str = "") -> None:
        label = label or self.chance.choice(BOTTLES)
        counts = [self.chance.choice((2, 3, 3, 3)) for _ in range(2)]
        wrong = self.chance.choice((0, 0, 0, 1))
        event = self.give("strip-control", label, positive=counts[0], negative=counts[1], wrong=wrong)
        if event is not None:
            self.bottles[label]["good"] = min(counts) >= 3 and not wrong

    def strip(self, label: str = "", tag: str = "", bottle: str = "") -> None:
        label, tag = label or self.chance.choice(LABELS), tag or self.chance.choice(TAGS)
        bottle = bottle or self.chance.choice(BOTTLES)
        result = "fail" if self.chance.random() < 0.1 else "pass"
        after = self.chance.choice((60, 60, 60, 90, 91))
        event = self.give("strip-test", label, scope=tag, result=result, strip_lot=bottle, read_after_s=after)
        if event is None or label not in self.baths:
            return
        bath, one = self.baths[label], self.bottles.get(bottle)
        if result == "fail":
            bath["failed"] = True
        good = (result == "pass" and after <= 90 and one is not None and one["good"] and one["last"] >= self.day()
                and one["type"] == TYPES[bath["claim"]])  # fmt: skip
        bath["tests"][event.data["test"]] = (event.refs.get("cycle", ""), good)

    def start(self, tag: str = "", label: str = "") -> None:
        tag, label = tag or self.chance.choice(TAGS), label or self.chance.choice(LABELS)
        if tag not in self.bench.unit.cycles or self.bench.cycle(tag).step != "disinfectant-soak":
            self._bring(tag)
        if tag not in self.bench.unit.cycles or self.bench.cycle(tag).running:
            return
        self.bench.wait(1)
        known = [t.id for b in self.bench.unit.baths.values() if b.label == label for t in b.tests.values()]
        named = {"test": self.chance.choice(known)} if known and self.chance.random() < 0.3 else {}
        event = self.give("start", tag, bath=label, temp_c=25, under=True, filled=True, parts=True, **named)
        if event is None:
            self.refused += 1
            return
        self.started += 1
        bath = self.baths[label]
        reuse, opened = LIVES[bath["claim"]]
        ends = [bath["expires"], bath["begun"] + timedelta(days=reuse)]
        ends += [bath["opened"] + timedelta(days=opened)] if opened else []
        cycle, good = bath["tests"].pop(event.data["soak"]["test"], ("", False))
        assert bath["open"] and not bath["failed"], f"{label} was closed or had failed"
        assert self.day() <= min(ends), f"{label} had expired on {min(ends)}, it is {self.day()}"
        assert bath["activated"] or not bath["claim"].startswith("glut")
        assert good and cycle == event.refs["cycle"], f"{label} was not tested for {tag} with a strip that counts"
        if self.chance.random() < 0.2:
            self.bench.wait(60)
            self.give("lift", tag, reason="it had to be moved", temp_c=25)
            again = {"bath": label, "temp_c": 25, "under": True, "filled": True, "parts": True}
            assert self.give("start", tag, **again, test=event.data["soak"]["test"]) is None, "a strip covered twice"
            self.give("void", tag, reason="enough")
        elif self.chance.random() < 0.3:
            assert self.give("undo", tag) is not None
            bath["tests"][event.data["soak"]["test"]] = (cycle, good)
        else:
            self.bench.wait(5400)
            self.give("lift", tag, temp_c=25)
            self.give("void", tag, reason="enough")

    def _bring(self, tag: str) -> None:
        cycle = self.bench.unit.cycles.get(tag)
        if cycle is not None:
            self.give("void", tag, reason="begin again")
        if tag not in self.bench.unit.cycles:
            self.bench.take_to(tag, "disinfectant-soak")

    def close(self, label: str = "") -> None:
        if not label and self.chance.random() < 0.7:
            return
        label = label or self.chance.choice(LABELS)
        if self.give("close-bath", label, reason="r") and label in self.baths:
            self.baths[label]["open"] = False

    def correct(self) -> None:
        label = self.chance.choice(LABELS)
        if self.give("correct", label, what="strip", reason="misread") and label in self.baths:
            self.baths[label]["failed"] = False

    def time(self) -> None:
        self.bench.wait(self.chance.choice((30, 600, 7200, DAY, 3 * DAY)))

    def clock(self) -> None:
        _ = self.bench.now
        step_s = self.chance.choice((-20 * DAY, -3 * DAY, -3600, 3600))
        self.bench.clock.step(step_s)
        self.off_s += step_s

    def reboot(self) -> None:
        _ = self.bench.now
        self.bench.reboot(self.chance.choice((1, 600, 5 * DAY)))

    def undo(self) -> None:
        self.give("undo", self.chance.choice(TAGS))

    def again(self) -> None:
        self.give("set-unit", "unit", soon_s=self.chance.choice((30, 60, 90)))


@given(st.integers(0, 2**32))
@settings(max_examples=60, deadline=None)
def test_no_sequence_of_entries_makes_a_bad_bath_usable(seed: int) -> None:
    account = Account(seed)
    for _ in range(60):
        account.step()


def test_the_sequences_start_soaks_and_are_refused() -> None:
    accounts = [Account(seed) for seed in range(24)]
    for account in accounts:
        for _ in range(60):
            account.step()
    assert sum(a.started for a in accounts) >= 24 and sum(a.refused for a in accounts) >= 100
