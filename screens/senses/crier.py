"""The crier decides which prompt is called now: in order of need, one at a time, until acted on.

It reads no clock and starts no timer: the app calls `tick` with the prompts that stand and the elapsed time,
once a second and at the time that `next_at_s` gives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Protocol

from screens.senses.promise import LEVELS, Can, Level

REPEAT_S: Mapping[Level, float | None] = MappingProxyType(
    {"soon": None, "ready": 60.0, "late": 30.0, "very_late": 15.0}
)
"""Seconds from one call of a prompt to its next; None is called once. Own figures."""

OWED_TOO_LONG_S = 60.0
"""A prompt that has waited this long for its turn goes first, so that many urgent ones never silence another.
"""

_BETWEEN_S = 0.4
_SPEECH_S_PER_CHARACTER = 0.075
_SPEECH_S_AT_LEAST = 0.6


@dataclass(frozen=True)
class Prompt:
    """One thing that somebody should do: for which scope, how urgent, its words on screen and as spoken.

    `key` stays the same while the prompt stands, also when its level rises. `call` is the number of the
    scope's call.
    """

    key: str
    scope_tag: str
    call: int
    level: Level
    words: str
    spoken: str


class Chimes(Protocol):
    """What the crier needs of a chime."""

    def can(self) -> Can: ...
    def play(self, call: int, level: Level) -> Can: ...
    def length_s(self, level: Level) -> float: ...


class Buzzes(Protocol):
    """What the crier needs of a buzz."""

    def can(self) -> Can: ...
    def play(self, level: Level) -> Can: ...


class Speaks(Protocol):
    """What the crier needs of speech."""

    def can(self) -> Can: ...
    def say(self, key: str, words: str, level: Level) -> Can: ...
    def drop(self, key: str) -> None: ...


@dataclass
class _Turn:
    """What is remembered of one standing prompt."""

    level: Level
    due_s: float | None
    called_s: float | None = None


class Crier:
    """Calls prompts through chime, buzz and speech, and keeps account of which of them fail."""

    def __init__(self, chime: Chimes, buzz: Buzzes, speak: Speaks) -> None:
        """Take the senses; nothing is asked of them yet."""
        self._chime = chime
        self._buzz = buzz
        self._speak = speak
        self._turns: dict[str, _Turn] = {}
        self._free_at_s = float("-inf")
        self._to_say: tuple[float, Prompt] | None = None
        self._failures: dict[str, str] = {}
        self.check()

    @property
    def failures(self) -> Mapping[str, str]:
        """Give the senses that do not work now: name of the sense to the message id of the reason."""
        return MappingProxyType(self._failures)

    def check(self) -> Mapping[str, str]:
        """Ask every sense whether it can, as at the start and after a setting changed; give the failures."""
        for name, answer in (
            ("chime", self._chime.can()),
            ("buzz", self._buzz.can()),
            ("speak", self._speak.can()),
        ):
            self._note(name, answer)
        return self.failures

    def tick(self, prompts: Sequence[Prompt], now_s: float) -> Prompt | None:
        """Call the prompt whose turn it is, if one is due and the last call is over; give the one called.

        `prompts` are all that stand now, most needed first; `now_s` is elapsed time in seconds that never
        goes back.
        """
        self._follow(prompts, now_s)
        if self._to_say is not None and now_s >= self._to_say[0]:
            prompt, self._to_say = self._to_say[1], None
            self._note("speak", self._speak.say(prompt.key, prompt.spoken, prompt.level))
        if now_s < self._free_at_s:
            return None
        chosen = self._choose(prompts, now_s)
        if chosen is not None:
            self._call(chosen, now_s)
        return chosen

    def next_at_s(self) -> float | None:
        """Give the elapsed time at which `tick` has something to do, if the prompts stay as they are."""
        due = [turn.due_s for turn in self._turns.values() if turn.due_s is not None]
        times = [max(min(due), self._free_at_s)] if due else []
        if self._to_say is not None:
            times.append(self._to_say[0])
        return min(times, default=None)

    def ahead(self) -> Crier:
        """Give a silent crier that goes on from where this one stands, to see what this one would call."""
        found = Crier(_SilentChime(self._chime), _SilentBuzz(self._buzz), _SilentSpeak(self._speak))
        found._turns = {key: replace(turn) for key, turn in self._turns.items()}
        found._free_at_s, found._to_say = self._free_at_s, self._to_say
        return found

    def _follow(self, prompts: Sequence[Prompt], now_s: float) -> None:
        """Take up new prompts, forget those acted on, and bring forward those that became more urgent."""
        standing = {prompt.key for prompt in prompts}
        for key in [key for key in self._turns if key not in standing]:
            del self._turns[key]
            self._speak.drop(key)
            if self._to_say is not None and self._to_say[1].key == key:
                self._to_say = None
        for prompt in prompts:
            turn = self._turns.get(prompt.key)
            if turn is None:
                self._turns[prompt.key] = _Turn(prompt.level, now_s)
            elif LEVELS.index(prompt.level) > LEVELS.index(turn.level):
                turn.level = prompt.level
                turn.due_s = now_s if turn.due_s is None else min(now_s, turn.due_s)
            elif prompt.level != turn.level:
                turn.level = prompt.level
                turn.due_s = _after(turn.called_s, prompt.level, now_s)

    def _choose(self, prompts: Sequence[Prompt], now_s: float) -> Prompt | None:
        """Give the prompt to call: owed too long, then by level, then longest uncalled, then as given."""
        waiting = []
        for place, prompt in enumerate(prompts):
            turn = self._turns[prompt.key]
            if turn.due_s is None or turn.due_s > now_s:
                continue
            owed_too_long = now_s - turn.due_s >= OWED_TOO_LONG_S
            called_s = float("-inf") if turn.called_s is None else turn.called_s
            waiting.append((not owed_too_long, -LEVELS.index(prompt.level), called_s, place, prompt))
        return min(waiting, key=lambda entry: entry[:4])[4] if waiting else None

    def _call(self, prompt: Prompt, now_s: float) -> None:
        turn = self._turns[prompt.key]
        turn.called_s = now_s
        turn.due_s = _after(now_s, prompt.level, now_s)
        sounded = self._chime.play(prompt.call, prompt.level)
        self._note("chime", sounded)
        self._note("buzz", self._buzz.play(prompt.level))
        speaks = self._speak.can()
        self._note("speak", speaks)
        over_s = now_s + (self._chime.length_s(prompt.level) if sounded else 0.0)
        # Spoken after the notes, never over them. A voice that failed before is tried again each time; only
        # its length is not waited for.
        self._to_say = (over_s, prompt)
        speech_s = _SPEECH_S_AT_LEAST + _SPEECH_S_PER_CHARACTER * len(prompt.spoken) if speaks else 0.0
        self._free_at_s = over_s + speech_s + _BETWEEN_S

    def _note(self, sense: str, answer: Can) -> None:
        if answer:
            self._failures.pop(sense, None)
        else:
            self._failures[sense] = answer.why


class _SilentChime:
    """As long as the chime it stands for, and as able, without a sound."""

    def __init__(self, chime: Chimes) -> None:
        self._answer, self.length_s = chime.can(), chime.length_s

    def can(self) -> Can:
        return self._answer

    def play(self, call: int, level: Level) -> Can:
        return self._answer


class _SilentBuzz:
    def __init__(self, buzz: Buzzes) -> None:
        self._answer = buzz.can()

    def can(self) -> Can:
        return self._answer

    def play(self, level: Level) -> Can:
        return self._answer


class _SilentSpeak:
    def __init__(self, speak: Speaks) -> None:
        self._answer = speak.can()

    def can(self) -> Can:
        return self._answer

    def say(self, key: str, words: str, level: Level) -> Can:
        return self._answer

    def drop(self, key: str) -> None:
        """Nothing waits to be said."""


def _after(called_s: float | None, level: Level, now_s: float) -> float | None:
    """Give when a prompt of this level is due again after it was last called."""
    if called_s is None:
        return now_s
    repeat_s = REPEAT_S[level]
    return None if repeat_s is None else called_s + repeat_s
