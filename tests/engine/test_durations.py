"""How long hands are busy: shipped guesses held against the literature, own times by their weight, nothing dropped."""

from __future__ import annotations

from random import Random
from statistics import median

import pytest
from driver import LIBRARY, shelf

from protocols.durations import KEPT, PRIOR_WEIGHT, Durations, Seen, read_durations
from protocols.errors import ProtocolFault

TEXT = (LIBRARY / "durations.toml").read_text("utf-8")
FAMILY = "gastroscope"


def shipped() -> Durations:
    return read_durations(TEXT, "durations.toml")


def step(name: str):
    texts = shelf()
    return texts.protocol(texts.shipped["gastroscope"]).step(name)


def test_manual_cleaning_is_as_long_as_published() -> None:
    """17 min of manual cleaning a scope (TIME-2017 in the trade's literature; read at second hand, machine units)."""
    texts, durations = shelf(), shipped()
    found = []
    for name in ("gastroscope", "colonoscope-aux", "duodenoscope"):
        protocol = texts.protocol(texts.shipped[name])
        steps = [s for s in protocol.order(frozenset({"soak"})) if s.stage in ("clean", "rinse") and s.kind != "soak"]
        times = [durations.typical_s(protocol.family, s, s.kind, int(s.times.value) if s.times else 1) for s in steps]
        found.append(sum(times) / 60)
    assert 17 * 0.75 <= sum(found) / len(found) <= 17 * 1.25, found


def test_a_guess_is_a_spread_with_its_two_figures() -> None:
    guess = shipped().guesses["pass"]
    assert guess.time(0.5) == pytest.approx(guess.typical_s)
    assert guess.time(0.1) == pytest.approx(guess.most_s)
    assert guess.beyond(guess.most_s) == pytest.approx(0.1)
    drawn = [shipped().draw_s(FAMILY, step("brush-port"), "pass", Random(k)) for k in range(600)]
    assert median(drawn) == pytest.approx(guess.typical_s, rel=0.1)
    assert sum(x > guess.most_s for x in drawn) / 600 == pytest.approx(0.1, abs=0.04)


def test_own_times_win_over_the_guess_as_they_grow() -> None:
    brush, guess = step("brush-port"), shipped().typical_s(FAMILY, step("brush-port"), "pass")
    key = (FAMILY, brush.id)
    few = shipped().with_own({key: [Seen(200, True)] * PRIOR_WEIGHT})
    many = shipped().with_own({key: [Seen(200, True)] * 54})
    assert few.typical_s(FAMILY, brush, "pass") == pytest.approx((200 + guess) / 2)
    assert many.typical_s(FAMILY, brush, "pass") == pytest.approx(0.9 * 200 + 0.1 * guess)
    assert shipped().with_own({key: [Seen(9, True)] * 500}).count(FAMILY, brush) == KEPT
    assert many.typical_s("bronchoscope", brush, "pass") == guess  # times of another family count for nothing


def test_what_was_broken_off_counts_as_longer_than_seen() -> None:
    brush = step("brush-port")
    key, ended = (FAMILY, brush.id), [Seen(float(s), True) for s in (40, 50, 60, 70, 80)]
    without = shipped().with_own({key: ended})
    broken = shipped().with_own({key: [*ended, *[Seen(65, False)] * 5]})
    assert broken.typical_s(FAMILY, brush, "pass") > without.typical_s(FAMILY, brush, "pass")


def test_what_is_in_hand_is_never_drawn_shorter_than_it_has_been() -> None:
    brush = step("brush-port")
    own = shipped().with_own({(FAMILY, brush.id): [Seen(float(s), True) for s in range(40, 70)]})
    for durations in (shipped(), own):
        drawn = [durations.draw_s(FAMILY, brush, "pass", Random(k), already_s=65) for k in range(200)]
        assert min(drawn) >= 65
        assert len(set(drawn)) > 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('what = "pass"', 'what = "pss"', "there is no guess for pass"),
        ("typical_s = 55", "typical_s = 155", "not 0 < typical < most"),
        ("typical_s = 55", 'typical_s = "55"', "numbers of seconds"),
        ("typical_s = 55\n", "", "a guess has how, most_s"),
        ('how = "common practice, no source"\n', 'how = "hearsay"\n', "how it is known"),
        ("cleaned_again_share = { value = 0.07", "cleaned_again_share = { value = 7", "not from 0 to 1"),
        ("wet_again_share", "wet_share", "upsets.wet_again_share"),
        ("[upsets]", "[upsets", "not TOML"),
    ],
)
def test_a_fault_in_the_shipped_figures_is_named(old: str, new: str, words: str) -> None:
    with pytest.raises(ProtocolFault, match=words):
        read_durations(TEXT.replace(old, new, 1), "durations.toml")
