"""The crier calls in order of need, one at a time, again and again until acted on; on a clock that tests
move."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import pytest

from screens.senses.crier import OWED_TOO_LONG_S, REPEAT_S, Crier, Prompt
from screens.senses.promise import LEVELS, YES, Can, Level, no
from screens.senses.tones import RHYTHMS


@dataclass
class FakeChime:
    """Remembers what it played; plays nothing."""

    answer: Can = YES
    played: list[tuple[int, Level]] = field(default_factory=list)

    def can(self) -> Can:
        return self.answer

    def play(self, call: int, level: Level) -> Can:
        self.played.append((call, level))
        return self.answer

    def length_s(self, level: Level) -> float:
        return RHYTHMS[level].length_s


@dataclass
class FakeBuzz:
    answer: Can = YES
    played: list[Level] = field(default_factory=list)

    def can(self) -> Can:
        return self.answer

    def play(self, level: Level) -> Can:
        self.played.append(level)
        return self.answer


@dataclass
class FakeSpeak:
    answer: Can = YES
    said: list[tuple[str, str]] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)

    def can(self) -> Can:
        return self.answer

    def say(self, key: str, words: str, level: Level) -> Can:
        self.said.append((key, words))
        return self.answer

    def drop(self, key: str) -> None:
        self.dropped.append(key)


def prompt(tag: str, level: Level, call: int = 0) -> Prompt:
    return Prompt(f"{tag}-lift", tag, call, level, f"{tag} lift out", f"scope {tag}, lift out")


class Shift:
    """A crier with fake senses and a clock that is moved by hand."""

    def __init__(self) -> None:
        self.chime, self.buzz, self.speak = FakeChime(), FakeBuzz(), FakeSpeak()
        self.crier = Crier(self.chime, self.buzz, self.speak)
        self.called: list[tuple[float, str]] = []

    def run(self, prompts: list[Prompt], start_s: float, end_s: float, step_s: float = 0.25) -> list[tuple[float, str]]:
        """Tick from start to end and give what was called in this time."""
        before = len(self.called)
        for at in range(round((end_s - start_s) / step_s)):
            now_s = start_s + at * step_s
            if (called := self.crier.tick(prompts, now_s)) is not None:
                self.called.append((now_s, called.scope_tag))
        return self.called[before:]


@pytest.mark.parametrize(("level", "every_s"), [("ready", 60.0), ("late", 30.0), ("very_late", 15.0)])
def test_a_prompt_repeats_until_it_is_gone(level: Level, every_s: float) -> None:
    shift = Shift()
    times = [at for at, _ in shift.run([prompt("B2", level)], 1000.0, 1000.0 + 4 * every_s)]
    assert times == [1000.0 + every_s * number for number in range(4)]
    assert shift.run([], 2000.0, 2200.0) == []


def test_soon_is_called_once() -> None:
    assert len(Shift().run([prompt("B2", "soon")], 0.0, 600.0)) == 1


def test_the_most_urgent_is_called_first_whatever_the_order_given() -> None:
    shift = Shift()
    called = shift.run([prompt("A1", "ready"), prompt("B2", "very_late"), prompt("C3", "late")], 0.0, 14.0)
    assert [tag for _, tag in called] == ["B2", "C3", "A1"]


def test_calls_are_never_on_top_of_each_other() -> None:
    shift = Shift()
    prompts = [prompt(f"S{number}", LEVELS[1 + number % 3], number) for number in range(9)]
    called = shift.run(prompts, 0.0, 300.0, 0.05)
    levels = {p.scope_tag: p.level for p in prompts}
    assert len(called) > 30
    for (begun_s, tag), (next_s, _) in pairwise(called):
        assert next_s >= begun_s + RHYTHMS[levels[tag]].length_s


def test_speech_waits_for_the_notes_and_the_next_call_waits_for_the_speech() -> None:
    shift = Shift()
    first, second = prompt("B2", "late"), prompt("G7", "ready")
    shift.crier.tick([first, second], 0.0)
    assert shift.speak.said == []
    shift.crier.tick([first, second], RHYTHMS["late"].length_s - 0.1)
    assert shift.speak.said == []
    assert shift.crier.tick([first, second], RHYTHMS["late"].length_s + 0.1) is None
    assert shift.speak.said == [("B2-lift", "scope B2, lift out")]
    assert shift.chime.played == [(0, "late")]


def test_a_prompt_that_becomes_more_urgent_is_called_at_once() -> None:
    shift = Shift()
    assert shift.run([prompt("B2", "ready")], 0.0, 20.0) == [(0.0, "B2")]
    assert shift.run([prompt("B2", "late")], 20.0, 21.0) == [(20.0, "B2")]
    assert shift.chime.played == [(0, "ready"), (0, "late")]


def test_a_prompt_that_becomes_less_urgent_waits_from_its_last_call() -> None:
    shift = Shift()
    shift.run([prompt("B2", "very_late")], 0.0, 1.0)
    assert shift.run([prompt("B2", "ready")], 10.0, 100.0) == [(60.0, "B2")]


def test_what_was_acted_on_is_neither_called_nor_spoken() -> None:
    shift = Shift()
    shift.crier.tick([prompt("B2", "late")], 0.0)
    shift.run([], 0.25, 60.0)
    assert shift.speak.said == []
    assert shift.speak.dropped == ["B2-lift"]
    assert shift.crier.next_at_s() is None


def test_many_urgent_prompts_never_silence_another_for_good() -> None:
    shift = Shift()
    crowd = [prompt(f"V{number}", "very_late", number) for number in range(12)]
    called = shift.run([*crowd, prompt("R1", "ready", 20)], 0.0, 400.0)
    first_s = next(at for at, tag in called if tag == "R1")
    assert OWED_TOO_LONG_S <= first_s < 150.0
    assert {tag for _, tag in called} == {f"V{number}" for number in range(12)} | {"R1"}


def test_several_of_one_level_take_turns() -> None:
    called = Shift().run([prompt(tag, "very_late") for tag in ("A1", "B2", "C3", "D4", "E5")], 0.0, 60.0)
    order = [tag for _, tag in called]
    assert order[:10] == ["A1", "B2", "C3", "D4", "E5"] * 2


def test_failures_are_told_and_the_other_senses_go_on() -> None:
    shift = Shift()
    assert shift.crier.failures == {}
    shift.chime.answer = no("no_sound_device")
    assert shift.run([prompt("B2", "late")], 0.0, 2.5) == [(0.0, "B2")]
    assert shift.crier.failures == {"chime": "why.no_sound_device"}
    assert shift.buzz.played == ["late"]
    assert shift.speak.said == [("B2-lift", "scope B2, lift out")]
    shift.chime.answer = YES
    shift.run([prompt("B2", "late")], 30.0, 31.0)
    assert shift.crier.failures == {}


def test_a_handheld_without_any_sense_says_so_from_the_start() -> None:
    crier = Crier(FakeChime(no("no_sound_device")), FakeBuzz(no("no_vibrator")), FakeSpeak(no("no_voice")))
    assert dict(crier.failures) == {
        "chime": "why.no_sound_device",
        "buzz": "why.no_vibrator",
        "speak": "why.no_voice",
    }
    assert crier.tick([prompt("B2", "late")], 0.0) is not None, "it is still called: a device may come back"


def test_next_at_is_when_the_next_tick_does_something() -> None:
    shift = Shift()
    standing = [prompt("B2", "ready")]
    shift.crier.tick(standing, 100.0)
    speech_s = shift.crier.next_at_s()
    assert speech_s == pytest.approx(100.0 + RHYTHMS["ready"].length_s)
    shift.crier.tick(standing, speech_s)
    assert len(shift.speak.said) == 1
    assert shift.crier.next_at_s() == 160.0
    assert shift.crier.tick(standing, 159.99) is None
    assert shift.crier.tick(standing, 160.0) == standing[0]


def test_words_changed_on_a_standing_prompt_are_the_words_spoken() -> None:
    shift = Shift()
    shift.run([prompt("B2", "late")], 0.0, 10.0)
    shift.run([replace(prompt("B2", "late"), spoken="broncho two, lift out now")], 30.0, 40.0)
    assert shift.speak.said[-1] == ("B2-lift", "broncho two, lift out now")


def test_the_repeats_are_the_ones_agreed() -> None:
    # Own figures: no published repeat for prompts of this kind was found.
    assert dict(REPEAT_S) == {"soon": None, "ready": 60.0, "late": 30.0, "very_late": 15.0}
