"""Every shipped protocol: it loads, ends in every case, says what it must, agrees with the others."""

from __future__ import annotations

from itertools import combinations

import pytest

from data.library import library_folder, shipped_claims_text, shipped_protocol_texts
from protocols.load import read_claims, read_protocol
from protocols.model import Figure, Move, Protocol, Step
from protocols.rules import claim_findings

SHELF = {name: read_protocol(text, name) for name, text in shipped_protocol_texts().items()}
CLAIMS = read_claims(shipped_claims_text(), "chemistries.toml")
FLAGS = [frozenset({way, *more}) for way in ("soak", "machine") for more in ((), ("delayed",))]
EVERY = pytest.mark.parametrize("protocol", SHELF.values(), ids=lambda p: p.id)


def test_the_library_holds_each_kind_of_scope() -> None:
    assert {p.id for p in SHELF.values()} == {
        "bronchoscope-1", "gastroscope", "colonoscope-aux", "duodenoscope",
        "ultrasound-endoscope", "laryngoscope",
    }  # fmt: skip
    assert all(name == f"{protocol.id}.toml" for name, protocol in SHELF.items())
    assert (library_folder() / "chemistries.toml").is_file()


def _next(protocol: Protocol, step: Step, flags: frozenset[str]) -> set[tuple[str, frozenset[str]]]:
    """All places to which a step can lead; ("", flags) is the end."""
    places = set()
    for outcome in step.outcomes:
        if outcome.move is Move.OUT:
            places.add(("", flags))
        elif outcome.move is Move.LEAK:
            places.add((protocol.following(step.id, frozenset({"leak"})), frozenset({"leak"})))
        elif outcome.move is Move.BACK:
            places.add((outcome.back_to, flags))
        elif outcome.move is Move.NEXT:
            places.add((protocol.following(step.id, flags), flags))
    if not step.outcomes:
        places.add((protocol.following(step.id, flags), flags))
    if step.fail_back_to:
        places.add((step.fail_back_to, flags))
    return places


@EVERY
@pytest.mark.parametrize("flags", FLAGS, ids=lambda f: "+".join(sorted(f)))
def test_every_step_that_can_be_reached_can_reach_the_end(protocol: Protocol, flags: frozenset[str]) -> None:
    start = (protocol.following("", flags), flags)
    leads: dict[tuple[str, frozenset[str]], set[tuple[str, frozenset[str]]]] = {}
    waiting = [start]
    while waiting:
        place = waiting.pop()
        if place[0] and place not in leads:
            leads[place] = _next(protocol, protocol.step(place[0]), place[1])
            waiting.extend(leads[place])
    ending = {place for places in leads.values() for place in places if not place[0]}
    assert ending
    while True:
        more = {place for place, places in leads.items() if places & ending} - ending
        if not more:
            break
        ending |= more
    assert set(leads) <= ending
    assert {name for name, _ in leads} >= {s.id for s in protocol.order(flags)}


@EVERY
@pytest.mark.parametrize("flags", FLAGS, ids=lambda f: "+".join(sorted(f)))
def test_after_a_leak_only_the_repair_branch_is_left(protocol: Protocol, flags: frozenset[str]) -> None:
    branch = protocol.order(flags | {"leak"})
    assert branch and {s.stage for s in branch} == {"repair"}
    assert not any(s.bath for s in branch) and "tag" in branch[-1].needs and "owner" in branch[-1].records


def test_speech_names_differ_at_both_ends() -> None:
    for one, other in combinations([p.spoken for p in SHELF.values()], 2):
        assert one[0] != other[0] and one[-2:] != other[-2:]


@EVERY
def test_the_steps_of_the_field_are_all_there_in_order(protocol: Protocol) -> None:
    """The order is that of trade guidance: leak test, clean, rinse, inspect, disinfect, rinse, dry, store.

    Source: a 2017 trade article that sums up AAMI, SGNA and AORN (nine steps from pre-clean to store).
    """
    stages = list(dict.fromkeys(s.stage for s in protocol.order(frozenset({"soak"}))))
    assert stages == [
        "prepare",
        "leak test",
        "clean",
        "rinse",
        "inspect",
        "disinfect",
        "final rinse",
        "dry",
        "store",
    ]
    first = protocol.steps[0]
    assert first.stage == "prepare" and first.needs == ("ppe",)
    leak_test = next(s for s in protocol.steps if s.stage == "leak test")
    assert leak_test.needs == ("cap", "pressurised", "vented")
    assert [protocol.step(f"wipe-{part}").outcome("debris").move for part in ("control", "boot", "insertion")] == [
        Move.AGAIN
    ] * 3  # type: ignore[union-attr]
    brushes = [s for s in protocol.steps if s.kind == "pass"]
    assert brushes and brushes[-1].needs == ("brush",) and all(s.stage == "clean" for s in brushes)
    debris = protocol.step("inspect").outcome("debris")
    assert debris is not None and (debris.move, debris.back_to) == (Move.BACK, "immerse")
    assert protocol.steps[-1].when == "leak" and "label" in protocol.step("store").needs


@EVERY
def test_every_channel_is_flushed_by_name(protocol: Protocol) -> None:
    says = " ".join(s.says for s in protocol.steps if s.kind == "count" and s.stage == "clean")
    for channel in protocol.channels:
        assert f"the {channel} with" in says
    assert bool(protocol.channels) == ("filled" in protocol.step("disinfectant-soak").needs)
    if not protocol.channels:
        assert "channel" not in " ".join(s.says for s in protocol.steps)


@pytest.mark.parametrize("name", ["duodenoscope.toml", "ultrasound-endoscope.toml"])
def test_the_elevator_is_brushed_raised_and_lowered(name: str) -> None:
    ids = [s.id for s in SHELF[name].steps if s.kind == "pass"]
    assert "brush-elevator-raised" in ids and "brush-elevator-lowered" in ids


def _figures(protocol: Protocol) -> dict[str, Figure]:
    named = {"hang_s_max": protocol.hang_s_max, "short_clean_s": protocol.short_clean_s}
    named |= {"delay.limit_s_max": protocol.delay.limit_s_max, "delay.warn_s": protocol.delay.warn_s}
    for step in protocol.steps:
        for key in step.__dataclass_fields__:
            named[f"{step.id}.{key}"] = getattr(step, key)
        for limit in step.limits:
            for key in limit.__dataclass_fields__:
                named[f"{step.id}.{limit.method}.{limit.meter}.{key}"] = getattr(limit, key)
    return {name: value for name, value in named.items() if isinstance(value, Figure)}


# Guidelines for duodenoscopes reach down to 5 days (study of hang times, 2017), so their storage is shorter.
DIFFERS = {("duodenoscope.toml", "hang_s_max")}


def test_figures_of_the_same_name_agree_across_files() -> None:
    seen: dict[str, Figure] = {}
    for file, protocol in SHELF.items():
        for name, figure in _figures(protocol).items():
            if (file, name) not in DIFFERS:
                assert seen.setdefault(name, figure) == figure, f"{name} of {file}"
    for file, name in DIFFERS:
        assert _figures(SHELF[file])[name] != seen[name]


def test_no_shipped_protocol_rests_on_memory() -> None:
    for protocol in SHELF.values():
        assert {f.how for f in _figures(protocol).values()} <= {
            "read", "read-2nd", "common practice, no source", "facility",
        }  # fmt: skip


def test_flushes_of_3_x_30_ml_say_that_they_have_no_source() -> None:
    flushes = [s for p in SHELF.values() for s in p.steps if s.volume_ml is not None]
    assert len(flushes) > 20
    for step in flushes:
        assert step.times is not None and step.volume_ml is not None
        assert (step.times.value, step.volume_ml.value) == (3, 30)
        assert step.times.how == step.volume_ml.how == "common practice, no source"


def test_every_claim_is_open_to_every_protocol() -> None:
    for file, protocol in SHELF.items():
        assert claim_findings(protocol, CLAIMS, file) == []


def test_claims_with_a_figure_from_memory_are_not_enabled() -> None:
    keys = ("contact_s_min", "temp_c_min", "temp_c_max", "reuse_d_max", "opened_d_max", "mec_pct")
    from_memory = {
        claim.id for claim in CLAIMS.values() if any(f and f.how == "memory" for f in (getattr(claim, k) for k in keys))
    }
    assert from_memory and not any(CLAIMS[name].enabled for name in from_memory)
