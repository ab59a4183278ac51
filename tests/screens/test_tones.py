"""The calls can be told apart, and keep away from the alarms of patient monitors."""

from __future__ import annotations

import itertools
import wave
from pathlib import Path

import numpy as np
import pytest

from screens.senses import tones
from screens.senses.promise import LEVELS, Level

# IEC 60601-1-8 alarm bursts and pulses. The standard itself was not read: these figures come from secondary
# sources (published sound generators, a maker's guide to alarm sounds); the pulse length of medium and low is
# from memory.
IEC_PULSES = {"high": 10, "medium": 3, "low": (1, 2)}
IEC_SPACING_S = {"high": (0.050, 0.125), "medium": (0.125, 0.250), "low": (0.125, 0.250)}
IEC_PULSE_S = {"high": (0.075, 0.200), "medium": (0.125, 0.250), "low": (0.125, 0.250)}
IEC_FUNDAMENTAL_HZ = (150.0, 1000.0)
IEC_HARMONICS_MIN = 4  # between 300 and 4000 Hz, within 15 dB of the fundamental
IEC_HARMONIC_BAND_HZ = (300.0, 4000.0)
IEC_WITHIN_DB = 15.0

EVERY = list(itertools.product(range(tones.CALLS), LEVELS))


@pytest.fixture(scope="module")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[int, Level], np.ndarray]:
    folder = tmp_path_factory.mktemp("tones")
    tones.write_missing(folder, range(tones.CALLS))
    return {(number, level): _read(tones.file_of(folder, number, level)) for number, level in EVERY}


def _read(path: Path) -> np.ndarray:
    with wave.open(str(path), "rb") as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, tones.RATE_HZ)
        return np.frombuffer(sound.readframes(sound.getnframes()), dtype="<i2").astype(float) / 32768


def _stretches_s(sound: np.ndarray) -> tuple[list[float], list[float]]:
    """Give the lengths of sounding and of silent stretches, in windows of 5 ms, silence at 30 dB below the
    peak."""
    window = round(0.005 * tones.RATE_HZ)
    count = len(sound) // window
    level = np.sqrt((sound[: count * window].reshape(count, window) ** 2).mean(axis=1))
    sounding = level > level.max() * 10 ** (-30 / 20)
    runs = [(on, sum(1 for _ in group) * 0.005) for on, group in itertools.groupby(sounding)]
    if runs and not runs[-1][0]:
        runs.pop()
    return [length for on, length in runs if on], [length for on, length in runs if not on]


@pytest.mark.parametrize("level", LEVELS)
def test_no_sounding_stretch_and_no_silence_is_that_of_an_alarm_pulse(
    sounds: dict[tuple[int, Level], np.ndarray], level: Level
) -> None:
    longest_pulse = max(high for _, high in IEC_PULSE_S.values())
    longest_spacing = max(high for _, high in IEC_SPACING_S.values())
    for number in range(tones.CALLS):
        sounding, silent = _stretches_s(sounds[number, level])
        assert min(sounding) > 2 * longest_pulse
        assert all(length > longest_spacing for length in silent)
        assert len(sounding) not in (IEC_PULSES["high"], IEC_PULSES["medium"])


def test_each_level_has_a_rhythm_of_its_own(sounds: dict[tuple[int, Level], np.ndarray]) -> None:
    rhythms = {}
    for level in LEVELS:
        sounding, silent = _stretches_s(sounds[0, level])
        rhythms[level] = (len(sounding), round(sum(sounding), 1), round(silent[0], 1) if silent else 0.0)
    assert rhythms["ready"][0] == 2
    assert rhythms["late"][0] == 4
    assert rhythms["very_late"][0] == 1
    assert rhythms["very_late"][1] > 3.0, "very late sounds on without a rest"
    assert len(set(rhythms.values())) == len(LEVELS)


def _spectrum(sound: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    padded = np.fft.rfft(sound * np.hanning(len(sound)), n=1 << 16)
    return np.fft.rfftfreq(1 << 16, 1 / tones.RATE_HZ), np.abs(padded)


@pytest.mark.parametrize("level", LEVELS)
def test_fundamental_and_harmonics_are_not_those_of_an_alarm(
    sounds: dict[tuple[int, Level], np.ndarray], level: Level
) -> None:
    first_s, second_s = tones.RHYTHMS[level].notes_s
    raised = 2 ** (tones.RHYTHMS[level].raised_semitones / 12)
    for number in range(tones.CALLS):
        sound = sounds[number, level]
        starts = (0.02, first_s + 0.02)
        for start_s, length_s, pitch in zip(starts, (first_s, second_s), tones.pitches_of_call(number), strict=True):
            begin, end = round(start_s * tones.RATE_HZ), round((start_s + length_s - 0.06) * tones.RATE_HZ)
            frequency, strength = _spectrum(sound[begin:end])
            fundamental = frequency[strength.argmax()]
            assert fundamental == pytest.approx(pitch * raised, rel=0.005)
            assert fundamental > IEC_FUNDAMENTAL_HZ[1]
            heard = 0
            for multiple in range(1, 9):
                hz = fundamental * multiple
                if not IEC_HARMONIC_BAND_HZ[0] <= hz <= IEC_HARMONIC_BAND_HZ[1]:
                    continue
                near = strength[(frequency > hz - 25) & (frequency < hz + 25)].max()
                heard += near > strength.max() * 10 ** (-IEC_WITHIN_DB / 20)
            assert heard < IEC_HARMONICS_MIN


def test_urgency_raises_pitch_and_loudness(sounds: dict[tuple[int, Level], np.ndarray]) -> None:
    peaks = [np.abs(sounds[3, level]).max() for level in LEVELS]
    assert peaks == sorted(peaks)
    assert peaks[-1] < 1.0, "the loudest call must not be cut off"
    raised = [tones.RHYTHMS[level].raised_semitones for level in ("ready", "late", "very_late")]
    assert raised == sorted(set(raised))


def test_every_call_has_two_notes_of_its_own_at_least_a_whole_tone_apart() -> None:
    calls = [tones.pitches_of_call(number) for number in range(tones.CALLS)]
    assert tones.CALLS == 42
    assert len(set(calls)) == tones.CALLS
    whole_tone = 2 ** (2 / 12)  # equal temperament
    assert all(max(call) / min(call) >= whole_tone * 0.9999 for call in calls)
    assert tones.pitches_of_call(tones.CALLS) == calls[0]
    # a at 440 Hz in equal temperament puts C6, 15 semitones above, at 1046.502 Hz.
    assert min(tones.PITCHES_HZ) == pytest.approx(440 * 2 ** (15 / 12), abs=0.001)


def test_a_raised_call_never_falls_on_the_notes_of_another_scope() -> None:
    plain = tones.PITCHES_HZ
    for level in ("late", "very_late"):
        raised = [pitch * 2 ** (tones.RHYTHMS[level].raised_semitones / 12) for pitch in plain]
        assert all(abs(high / low - 1) > 0.03 for high in raised for low in plain)


def test_lengths_told_are_the_lengths_written(sounds: dict[tuple[int, Level], np.ndarray]) -> None:
    for (_, level), sound in sounds.items():
        assert len(sound) / tones.RATE_HZ == pytest.approx(tones.RHYTHMS[level].length_s, abs=0.002)


def test_files_are_written_once_and_whole(tmp_path: Path) -> None:
    tones.write_missing(tmp_path, range(1))
    target = tones.file_of(tmp_path, 0, "ready")
    target.write_bytes(b"kept")
    tones.write_missing(tmp_path, range(1))
    assert target.read_bytes() == b"kept"
    assert not list(tmp_path.rglob("*.part"))
