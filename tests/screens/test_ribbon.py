"""The time ribbon and the words of dates and lengths: plain functions over documents of the real ledger."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from typing import Any

import harness  # noqa: F401  (sets the environment before Kivy)
from lead_scene import LEAD, Scene, in_soak

from data.ledger import Ledger, catch_up
from data.ribbon import ribbon
from protocols.clock import parse_wall
from protocols.model import STAGES, WATER_GRADES
from screens.ledger.facts import facts_of
from screens.moments import day_and_time, full_day_words, span_words
from screens.words import has
from tests.searching import searched


def _document(scene: Scene) -> dict[str, Any]:
    ledger = Ledger(scene.disk)
    catch_up(ledger, scene.door.journal)
    return searched(ledger)[-1]


def test_bars_follow_each_other_without_a_gap_from_receipt_to_end() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2")
    document = _document(scene)
    bars = ribbon(document)
    assert bars[0].start_ms == parse_wall(document["received"]["at"])
    assert bars[-1].end_ms == parse_wall(document["outcome"]["at"])
    assert all(one.end_ms == other.start_ms for one, other in pairwise(bars))
    assert [bar.stage for bar in bars] == [
        "prepare", "leak test", "clean", "rinse", "inspect", "disinfect", "final rinse", "dry", "store",
    ]  # fmt: skip
    runs = {bar.stage: [run.kind for run in bar.runs] for bar in bars if bar.runs}
    assert runs == {"clean": ["detergent"], "disinfect": ["disinfectant"], "dry": ["air"]}
    # 12 min of contact for OPA 0.55 % (CDC 2008 guideline, Table 4).
    (soak,) = bars[5].runs
    assert soak.end_ms - soak.start_ms >= 720_000


def test_a_late_stretch_ends_at_the_tap_and_is_as_long_as_it_was_late() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", in_soak("disinfectant"))
    scene.wait(1500)
    scene.give("lift", "B2", temp_c=21)
    scene.walk("B2", lambda lane: lane.cycle.hold is not None and lane.step.stage != "final rinse")
    scene.give("decide", "B2", LEAD, decision="continue", reason="by the IFU")
    scene.walk("B2")
    document = _document(scene)
    (late,) = document["lates"]
    bar = next(bar for bar in ribbon(document) if bar.lates)
    assert bar.stage == "disinfect"
    assert bar.late_s == late["over_s"] > 0
    assert bar.lates[0].end_ms == bar.end_ms


def test_a_stage_gone_back_to_comes_again_and_a_voided_receipt_has_no_bar() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", lambda lane: lane.step.stage == "inspect")
    scene.wait(20)
    scene.give("look", "B2", outcome="debris")
    scene.walk("B2")
    stages = [bar.stage for bar in ribbon(_document(scene))]
    assert stages.count("clean") == 2
    scene.receive("C4", 5)
    scene.wait(2)
    scene.give("undo", "C4")
    document = _document(scene)
    assert document["outcome"]["outcome"] == "voided"
    assert ribbon(document) == []
    assert facts_of(document, "UTC")[-1].bad


def test_every_outcome_has_words() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", in_soak("detergent"))
    scene.give("note", "B2", what="damage", text="scratch at the tip")
    scene.wait(5)
    scene.give("interrupt", "B2", reason="drain opened")
    scene.wait(5)
    scene.give("out-of-service", "B2", reason="scratch at the tip", owner="Mira")
    found = {fact.about: fact for fact in facts_of(_document(scene), "UTC")}
    assert "scratch at the tip" in found["note"].words
    assert "drain opened" in found["began again from zero"].words
    assert found["end"].words.startswith("out of service")
    assert found["end"].bad


def test_every_name_that_a_document_can_hold_has_words() -> None:
    """Ids put together from names in the record: none may be missing on the day it is first needed."""
    kinds = {
        "stage": STAGES,
        "ended": ("completed", "voided", "out of service"),
        "water": WATER_GRADES,
        "fact.preclean": ("yes", "no", "unknown"),
        "fact.verdict": ("pass", "alert", "fail"),
        "fact.strip": ("pass", "fail"),
        "fact.late": ("cleaning begun", "step begun", "lift"),
        "fact.result": ("late", "early", "too cold", "unproven", "interrupted", "run failed", "run interrupted"),
        "run": ("complete", "failed", "interrupted"),
        "decide": ("continue", "clean-again", "disinfect-again", "out-of-service"),
        "role": ("lead", "technician"),
        "month": map(str, range(1, 13)),
    }
    missing = [f"{kind}.{name}" for kind, names in kinds.items() for name in names]
    assert [name for name in missing if not has(name.replace(" ", "_"))] == []


def test_dates_and_lengths_in_words() -> None:
    assert [span_words(s) for s in (0, 59.9, 60, 3599, 3600, 5400, 86_399, 86_400, 90_000, 608_400)] == [
        "0 s", "59 s", "1 min", "59 min", "1 h", "1 h 30 min", "23 h 59 min", "1 d", "1 d 1 h", "7 d 1 h",
    ]  # fmt: skip
    assert full_day_words(date(2027, 2, 28)) == "28 Feb 2027"
    # 23:30 UTC is already the next day in Berlin (UTC+1 in winter).
    assert day_and_time(parse_wall("2026-11-24T23:30:00Z"), "Europe/Berlin") == "25 Nov 00:30"
