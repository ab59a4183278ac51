"""Speak promises to say a prompt aloud without ever holding up a tap, or to say why it cannot."""

from __future__ import annotations

from typing import Protocol

from screens.senses.promise import LEVELS, YES, Can, Level, attempt, no
from screens.senses.worker import Worker


class Voice(Protocol):
    """What speaks on one platform; every call may block and is made on the worker's thread, except `can`."""

    def can(self) -> Can:
        """Say, without blocking, whether there is a voice."""
        ...

    def speak(self, words: str, language: str) -> Can:
        """Say the words and return when they are said or handed over."""
        ...

    def close(self) -> None:
        """Let the voice go."""
        ...


def voice_for(system: str) -> Voice:
    """Give the voice of a system, named as Kivy names it."""
    if system == "android":
        from screens.senses.speak_android import AndroidVoice

        return AndroidVoice()
    from screens.senses.speak_desktop import DesktopVoice

    return DesktopVoice()


class Speak:
    """Speaks prompts one at a time, the latest of the most urgent first; `on` is the switch."""

    def __init__(self, voice: Voice, language: str = "en", on: bool = True) -> None:
        """Take the voice of this platform and the language of the words."""
        self._voice = voice
        self._worker = Worker("speech")
        self._last = YES
        self.language = language
        self.on = on

    def can(self) -> Can:
        """Say whether there is a voice and whether it answered when it was last asked to speak."""
        if not self.on:
            return no("off")
        answer = attempt("asking for a voice", self._voice.can, why="no_voice")
        return answer if not answer else self._last

    def say(self, key: str, words: str, level: Level) -> Can:
        """Hand the words over and return at once; they take the place of waiting words of the same key."""
        if not self.on:
            return no("off")
        answer = attempt("asking for a voice", self._voice.can, why="no_voice")
        if answer:
            self._worker.submit(key, LEVELS.index(level), lambda: self._speak(words))
            return self._last
        return answer

    def _speak(self, words: str) -> None:
        self._last = attempt("speaking", lambda: self._voice.speak(words, self.language), why="voice_failed")

    def drop(self, key: str) -> None:
        """Leave unsaid what has been acted on in the meantime."""
        self._worker.drop(key)

    def close(self) -> None:
        """Say nothing more."""
        self._worker.close()
        attempt("closing the voice", self._close_voice)

    def _close_voice(self) -> Can:
        self._voice.close()
        return YES
