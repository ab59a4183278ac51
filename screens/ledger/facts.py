"""The facts of one ended cycle in words, in the order in which they happened. Plain data, no window needed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from protocols.clock import clock_text, local, parse_date, parse_wall
from screens.moments import day_and_time, day_words, full_day_words
from screens.shown import do_words, in_words, step_words
from screens.telling import bath_title
from screens.words import has, say, shipped


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is known: what it is about, and it in words. `bad` for what went otherwise than planned."""

    about: str
    words: str
    bad: bool = False


class Words:
    """What every fact needs: the document, the zone, and names of people."""

    def __init__(self, document: Mapping[str, Any], zone: str) -> None:
        self.doc, self.zone = document, zone
        self._names: Mapping[str, str] = document["people"]["names"]

    def name(self, person: str | None) -> str:
        """Promise a person's name as it was then."""
        return self._names.get(person, person) if person else say("fact.unknown")

    def names(self, people: Iterable[str]) -> str:
        """Promise several names."""
        return ", ".join(self.name(person) for person in people)

    def time(self, wall: str | None) -> str:
        """Promise the time of day of a moment."""
        return f"{local(parse_wall(wall), self.zone):%H:%M}" if wall else say("fact.unknown")

    def span(self, one: Mapping[str, Any]) -> str:
        """Promise from when to when."""
        return say("moment.from_to", start=self.time(one["start"]), end=self.time(one["end"]))


def facts_of(document: Mapping[str, Any], zone: str) -> list[Fact]:
    """Promise the facts of one cycle; what never happened is left out, not shown as empty."""
    words = Words(document, zone)
    return [fact for maker in _MAKERS for fact in maker(words)]


def _scope(w: Words) -> Iterator[Fact]:
    scope = w.doc["scope"]
    serial = say("fact.serial", serial=scope["serial"]) if scope["serial"] else ""
    parts = [scope["model"], serial, shipped(scope["family"])]
    if scope["loaner"]:
        parts.append(say("fact.loan"))
    yield Fact(say("fact.scope"), ", ".join(part for part in parts if part))


def _case(w: Words) -> Iterator[Fact]:
    case, preclean = w.doc["case"], w.doc["preclean"]
    day = full_day_words(parse_date(case["procedure_date"])) if case["procedure_date"] else ""
    ended = say("fact.ended", time=w.time(case["procedure_end"])) if case["procedure_end"] else say("fact.end_unknown")
    parts = [case["reference"], case["procedure_type"], day, ended, case["location"]]
    yield Fact(say("fact.case"), ", ".join(part for part in parts if part))
    done = preclean["done"] or "unknown"
    words = say(f"fact.preclean.{done}")
    if done == "yes" and preclean["end"]:
        words = ", ".join(part for part in (words, w.time(preclean["end"]), preclean["by"]) if part)
    yield Fact(say("fact.preclean"), words, done != "yes")
    received = w.doc["received"]
    when = day_and_time(parse_wall(received["at"]), w.zone)
    yield Fact(say("fact.received"), say("fact.by", what=when, name=w.name(received["by"])))


def _delay(w: Words) -> Iterator[Fact]:
    delay = w.doc["delay"]
    if delay["delay_s"] is not None and delay["delay_s_max"]:
        words = say("fact.delay", time=clock_text(delay["delay_s"]), limit=clock_text(delay["delay_s_max"]))
        yield Fact(say("fact.delay.title"), words, delay["delay_s"] > delay["delay_s_max"])
    if delay["delayed"]:
        yield Fact(say("fact.delay.title"), say("fact.delayed"), True)


def _cleaning(w: Words) -> Iterator[Fact]:
    for test in w.doc["leak_tests"]:
        words = say("fact.by_at", what=_outcome(test["outcome"]), name=w.name(test["by"]), time=w.time(test["at"]))
        yield Fact(say("fact.leak"), words, test["result"] == "fail")
    cleaning = w.doc["cleaning"]
    if cleaning["start"]:
        length = clock_text(cleaning["length_s"]) if cleaning["length_s"] is not None else say("fact.unknown")
        yield Fact(
            say("fact.cleaned"), say("fact.for", what=w.span(cleaning), time=length, name=w.names(cleaning["by"]))
        )
    for bath in w.doc["detergent"]["baths"]:
        temp = say("given.temp_c", value=f"{bath['temp_c']:g}") if bath["temp_c"] is not None else say("fact.unknown")
        yield Fact(say("fact.detergent"), say("fact.bath", label=bath["bath"], lot=bath["bath_lot"], temp=temp))
    passes = sum(one["passes"] for one in w.doc["brushing"])
    if passes:
        debris = sum(one["with_debris"] for one in w.doc["brushing"])
        yield Fact(say("fact.brushed"), say("fact.passes", passes=passes, debris=debris))
    for reading in w.doc["verification"]:
        words = say("fact.reading", method=shipped(reading["method"]), value=f"{reading['value']:g}",
                    unit=reading["unit"], verdict=say(f"fact.verdict.{reading['verdict']}"))  # fmt: skip
        yield Fact(say("fact.verified"), words, reading["verdict"] == "fail")


def _disinfection(w: Words) -> Iterator[Fact]:
    for bath in w.doc["baths"]:
        if bath["kind"] == "disinfectant":
            last = day_words(parse_date(bath["last_day"])) if bath["last_day"] else say("fact.unknown")
            lot = bath["lot"] or say("fact.unknown")
            title = bath_title(bath["title"] or "")
            yield Fact(say("fact.disinfectant"), say("fact.hld", label=bath["label"], title=title, lot=lot, day=last))
    for test in w.doc["disinfection"]["strip_tests"]:
        words = say("fact.strip_words", result=say(f"fact.strip.{test['result']}"), label=test["bath"],
                    lot=test["strip_lot"], name=w.name(test["by"]), time=w.time(test["at"]))  # fmt: skip
        yield Fact(say("fact.strip"), words, test["result"] != "pass")
    for soak in w.doc["disinfection"]["soaks"]:
        yield _soak(w, soak)
    for run in w.doc["disinfection"]["runs"]:
        result = say(f"run.{run['result']}") if run["result"] else say("fact.not_ended")
        words = say("fact.run", machine=run["machine"], run=run["run"], span=w.span(run), result=result)
        yield Fact(say("fact.machine"), words, run["result"] != "complete")


def _soak(w: Words, soak: Mapping[str, Any]) -> Fact:
    contact = clock_text(soak["contact_s"]) if soak["contact_s"] is not None else say("fact.unknown")
    words = say("fact.soak_words", label=soak["bath"], contact=contact, needed=clock_text(soak["required_s"]),
                span=w.span(soak), name=w.name(soak["started_by"]))  # fmt: skip
    temps = [say("given.temp_c", value=f"{t:g}") for t in (soak["temp_c"], soak["lift_temp_c"]) if t is not None]
    if temps:
        words = f"{words}, {' / '.join(temps)}"
    if soak["result"] not in ("full", None):
        words = f"{words}, {_result(soak['result'])}"
    return Fact(say("fact.soak"), words, soak["result"] != "full")


def _after(w: Words) -> Iterator[Fact]:
    rinses = [one for one in w.doc["rinses"] if one["stage"] == "final rinse"]
    if rinses:
        water = sorted({grade for one in rinses for grade in one["water"]})
        count = sum(one["count"] for one in rinses)
        grades = ", ".join(say(f"water.{grade}") for grade in water)
        yield Fact(say("fact.rinsed"), say("fact.rinses", count=count, water=grades) if water else str(count))
    for one in w.doc["alcohol"]:
        yield Fact(say("fact.alcohol"), say("given.alcohol_pct", value=f"{one['alcohol_pct']:g}"))
    drying = w.doc["drying"]
    if drying["end"]:
        words = say("fact.dry", air=clock_text(drying["air_s"]), span=w.span(drying), name=w.names(drying["by"]))
        if drying["wet_checks"]:
            words = f"{words}, {say('fact.wet', count=drying['wet_checks'])}"
        yield Fact(say("fact.dried"), words)
    storage = w.doc["storage"]
    if storage["hang_from"]:
        until = day_and_time(parse_wall(storage["hang_until"]), w.zone) if storage["hang_until"] else ""
        words = [storage["place"] or "", say("fact.hang_until", when=until) if until else "", w.names(storage["by"])]
        yield Fact(say("fact.stored"), ", ".join(part for part in words if part))


def _otherwise(w: Words) -> Iterator[Fact]:
    for late in w.doc["lates"]:
        what = say(f"fact.late.{late['what'].replace(' ', '_')}")
        yield Fact(say("fact.late"), say("fact.late_words", what=what, time=clock_text(late["over_s"]),
                                         at=w.time(late["at"])), True)  # fmt: skip
    for one in w.doc["restarts"]:
        words = say(
            "fact.by_at", what=one["reason"] or _result(one["what"]), name=w.name(one["by"]), time=w.time(one["at"])
        )
        yield Fact(say("fact.restart"), words, True)
    for hold in w.doc["holds"]:
        key = f"decide.{hold['decision']}"
        decided = say(key) if hold["decision"] and has(key) else say("fact.not_decided")
        name = w.name(hold["decided_by"]) if hold["decided_by"] else ""
        yield Fact(say("fact.hold"), "; ".join(part for part in (in_words(hold["why"]), decided, name) if part), True)
    for note in w.doc["notes"]:
        words = say("fact.by_at", what=note["text"], name=w.name(note["by"]), time=w.time(note["at"]))
        yield Fact(say("fact.note"), words)
    for one in w.doc["taken_back"]:
        what = step_words(one["step"]) if one["step"] else do_words(one["what"])
        words = say("fact.by_at", what=what, name=w.name(one["by"]), time=w.time(one["at"]))
        yield Fact(say("fact.taken_back"), words)


def _result(result: str) -> str:
    return say(f"fact.result.{result.replace(' ', '_')}")


def _moved(w: Words) -> Iterator[Fact]:
    came, went = w.doc.get("came_from"), w.doc.get("went_to")
    if came is not None:
        words = say("fact.came_from", device=came["device"], cycle=came["cycle_there"], name=w.name(came["by"]),
                    time=w.time(came["taken_at"]))  # fmt: skip
        yield Fact(say("fact.moved"), words)
    if went is not None:
        yield Fact(say("fact.moved"), say("fact.went_to", device=went["device"], cycle=went["cycle_there"]))


def _outcome(word: str) -> str:
    return say(f"outcome.{word}") if has(f"outcome.{word}") else word


def _end(w: Words) -> Iterator[Fact]:
    outcome = w.doc["outcome"]
    when = day_and_time(parse_wall(outcome["at"]), w.zone)
    words = say("fact.by", what=f"{ended_words(outcome['outcome'])}, {when}", name=w.name(outcome["by"]))
    why = _why_ended(w)
    if outcome["outcome"] != "completed" and why:
        words = f"{words}: {why}"
    yield Fact(say("fact.end"), words, outcome["outcome"] != "completed")


def _why_ended(w: Words) -> str:
    outcome = w.doc["outcome"]
    if outcome["kind"] == "undo":
        return say("steps.undone", tag=w.doc["scope"]["tag"])
    if outcome["outcome"] == "handed over":
        return ""  # to whom is a fact of its own
    return _outcome(outcome["reason"] or "")


def ended_words(outcome: str) -> str:
    """Promise how a cycle ended in words: completed, voided, out of service."""
    return say(f"ended.{outcome.replace(' ', '_')}")


_MAKERS: tuple[Callable[[Words], Iterator[Fact]], ...] = (
    _scope, _case, _moved, _delay, _cleaning, _disinfection, _after, _otherwise, _end,
)  # fmt: skip
