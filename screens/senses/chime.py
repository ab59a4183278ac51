"""Chime promises to sound the call of a scope, or to say why it cannot.

On Linux, loading a sound after the window exists can hang Kivy 2.3.1 for good, so `preload` must run before
the first `import Window`. On Android each loaded sound holds a media player of which there are few, so there
they are loaded when first needed and the longest unused is let go.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any

from screens.senses import tones
from screens.senses.promise import LEVELS, YES, Can, Level, attempt, no

KEPT_ON_ANDROID = 8


def _load_with_kivy(path: str) -> Any:
    # Imported late: importing Kivy at the top would read the environment before the start has set it.
    from kivy.core.audio import SoundLoader

    return SoundLoader.load(path)


class Chime:
    """Plays one call at a time; `volume` is 0 (off) to 1."""

    def __init__(
        self,
        folder: Path,
        when_needed: bool = False,
        load: Callable[[str], Any] = _load_with_kivy,
        volume: float = 1.0,
    ) -> None:
        """Keep sound files under `folder`; with `when_needed` they are loaded when first played."""
        self._folder = folder
        self._when_needed = when_needed
        self._load = load
        self._sounds: OrderedDict[tuple[int, Level], Any] = OrderedDict()
        self._calls = 0
        self._answer = no("not_loaded")
        self.volume = volume

    def preload(self, calls: int) -> Can:
        """Make the sounds of calls 0 to `calls` - 1 ready; scopes with higher numbers share them.

        Files are written where missing. Answers why not when the disk or the sound device refuses.
        """
        self._calls = max(1, min(calls, tones.CALLS))
        self._answer = attempt("loading the calls", self._prepare)
        return self._answer

    def _prepare(self) -> Can:
        tones.write_missing(self._folder, range(self._calls))
        numbers = range(1) if self._when_needed else range(self._calls)
        for number in numbers:
            for level in LEVELS:
                # A device that is missing answers with a sound of length 0, never with None.
                if not self._sound(number, level):
                    return no("no_sound_device")
        return YES

    def _sound(self, number: int, level: Level) -> Any:
        """Give a loaded sound, or None when the device cannot play it."""
        key = (number, level)
        if key not in self._sounds:
            sound = self._load(str(tones.file_of(self._folder, number, level)))
            if sound is None or not sound.length > 0:
                return None
            self._sounds[key] = sound
            while self._when_needed and len(self._sounds) > KEPT_ON_ANDROID:
                _, unused = self._sounds.popitem(last=False)
                unused.unload()
        self._sounds.move_to_end(key)
        return self._sounds[key]

    def can(self) -> Can:
        """Say whether calls can be heard, as far as the device tells."""
        if self.volume <= 0.0:
            return no("off")
        return self._answer

    def length_s(self, level: Level) -> float:
        """Give how long the call of a level sounds."""
        return tones.RHYTHMS[level].length_s

    def play(self, call: int, level: Level) -> Can:
        """Begin to sound the call of a scope at a level and return at once."""
        if self.volume <= 0.0:
            return no("off")
        if not self._calls:
            return no("not_loaded")
        answer = attempt("sounding a call", lambda: self._start(call % self._calls, level))
        self._answer = answer
        return answer

    def _start(self, number: int, level: Level) -> Can:
        sound = self._sound(number, level)
        if sound is None:
            return no("no_sound_device")
        sound.volume = self.volume
        sound.play()
        # Kivy answers nothing to play(); a device that went away leaves the state at stop.
        return YES if sound.state == "play" else no("no_sound_device")
