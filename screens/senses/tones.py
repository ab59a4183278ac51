"""The calls: two notes for each scope, in four rhythms that rise with urgency; computed here.

They must not be taken for the alarm of a patient monitor. IEC 60601-1-8 alarms are bursts of short pulses (75
to 250 ms) spaced 50 to 250 ms apart, with a fundamental of 150 to 1000 Hz and four or more harmonics between
300 and 4000 Hz. The calls keep away from each of these: no sounding stretch is shorter than half a second, no
silence lies between 50 and 250 ms, the lowest fundamental is above 1000 Hz, and there is one harmonic, so
that they sound like a struck bar. The figures of that standard are known here from secondary sources; this is
care, not a claim of conformity.
"""

from __future__ import annotations

import array
import cmath
import math
import os
import sys
import wave
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from screens.senses.promise import LEVELS, Level

RATE_HZ = 44_100
"""The rate of Kivy's mixer on desktops, so that a sound is loaded as it is: any other is converted at each load."""
EDITION = "2"
"""Part of the folder name: raise it when the sound of any call changes, so that old files are not played."""

_LOWEST_HZ = 1046.502
"""C6 in equal temperament with a at 440 Hz."""
PITCHES_HZ = tuple(_LOWEST_HZ * 2.0 ** (step / 6.0) for step in range(7))
"""Whole tones apart: notes closer together are hard to tell apart across a room."""

# Wide leaps first: the first scopes of a unit get the calls that are easiest to know again.
_LEAPS = (3, 5, 2, 4, 6, 1)
_PAIRS = tuple(pair for leap in _LEAPS for low in range(7 - leap) for pair in ((low, low + leap), (low + leap, low)))
CALLS = len(_PAIRS)


@dataclass(frozen=True)
class Rhythm:
    """How a call is given at one urgency: note lengths, repeats, the rest between, how much higher."""

    notes_s: tuple[float, float]
    calls: int
    rest_s: float
    raised_semitones: int
    loudness: float

    @property
    def length_s(self) -> float:
        """Give how long it sounds, rests included."""
        return sum(self.notes_s) * self.calls + self.rest_s * (self.calls - 1)


# Raised by odd numbers of semitones: a raised call then never falls on the notes of another scope's.
RHYTHMS: Mapping[Level, Rhythm] = MappingProxyType(
    {
        "soon": Rhythm((0.34, 0.34), 1, 0.0, 0, 0.35),
        "ready": Rhythm((0.28, 0.44), 2, 0.60, 0, 0.60),
        "late": Rhythm((0.30, 0.30), 4, 0.35, 3, 0.80),
        "very_late": Rhythm((0.26, 0.26), 6, 0.0, 5, 1.00),
    }
)

_SECOND_HARMONIC = 0.25
_ONSET_S = 0.010
_FADE_S = 0.030
_SUSTAINED = 0.5
"""Share of its first loudness that a note keeps at its end; the next note of a call rises from there."""


def pitches_of_call(number: int) -> tuple[float, float]:
    """Give the two notes in Hz of the call with this number; after the last call numbers start again."""
    first, second = _PAIRS[number % CALLS]
    return PITCHES_HZ[first], PITCHES_HZ[second]


def samples(number: int, level: Level) -> array.array[int]:
    """Give the sound of a call as 16 bit samples at RATE_HZ, one channel."""
    rhythm = RHYTHMS[level]
    raised = 2.0 ** (rhythm.raised_semitones / 12.0)
    pitches = [pitch * raised for pitch in pitches_of_call(number)]
    joined = rhythm.rest_s == 0.0
    once = _call(pitches, rhythm.notes_s, rhythm.loudness, fade=not joined)
    rest = array.array("h", bytes(2 * round(rhythm.rest_s * RATE_HZ)))
    sound = array.array("h")
    for at in range(rhythm.calls):
        last = at == rhythm.calls - 1
        sound.extend(_call(pitches, rhythm.notes_s, rhythm.loudness, fade=True) if joined and last else once)
        if not last:
            sound.extend(rest)
    return sound


def _call(pitches: list[float], notes_s: tuple[float, float], loudness: float, fade: bool) -> array.array[int]:
    """Give the two notes of one call, joined without silence; `fade` lets the end die away."""
    made: list[float] = []
    # A pointer that turns once a period; its height and its reach give the note and, by the sine of the double angle,
    # the harmonic. It turns on from the first note into the second, so that their joint does not click.
    pointer = complex(32000.0 / (1.0 + _SECOND_HARMONIC) * loudness, 0.0)
    harmonic = 2.0 * _SECOND_HARMONIC / abs(pointer)
    onset, fading = round(_ONSET_S * RATE_HZ), round(_FADE_S * RATE_HZ)
    for pitch, length_s in zip(pitches, notes_s, strict=True):
        count = round(length_s * RATE_HZ)
        turn = cmath.exp(complex(0.0, 2.0 * math.pi * pitch / RATE_HZ))
        weaker, level = _SUSTAINED ** (1.0 / count), 1.0
        begin = len(made)
        for _ in range(count):
            pointer *= turn
            made.append(level * pointer.imag * (1.0 + harmonic * pointer.real))
            level *= weaker
        for at in range(onset):
            level = _SUSTAINED ** (at / count)
            made[begin + at] *= (_SUSTAINED + (level - _SUSTAINED) * at / onset) / level
    if fade:
        for left in range(1, fading):
            made[-left] *= left / fading
    return array.array("h", map(round, made))


def file_of(folder: Path, number: int, level: Level) -> Path:
    """Give where the sound of a call lies under `folder`."""
    return folder / f"calls-{EDITION}" / f"call-{number % CALLS:02d}-{level}.wav"


def write_missing(folder: Path, numbers: range) -> None:
    """Write the missing sounds, each whole or not at all; raises OSError when the disk refuses."""
    for number in numbers:
        for level in LEVELS:
            target = file_of(folder, number, level)
            if target.exists():
                continue
            target.parent.mkdir(parents=True, exist_ok=True)
            part = target.with_suffix(f".{os.getpid()}.part")
            with wave.open(str(part), "wb") as sound:
                sound.setnchannels(1)
                sound.setsampwidth(2)
                sound.setframerate(RATE_HZ)
                sound.writeframes(_little_endian(samples(number, level)))
            part.replace(target)


def _little_endian(sound: array.array[int]) -> bytes:
    """Give the samples in the byte order that WAV files have, whatever the machine's own is."""
    if sys.byteorder == "big":
        sound = array.array("h", sound)
        sound.byteswap()
    return sound.tobytes()
