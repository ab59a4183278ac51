"""Puts the senses of this platform together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from screens.senses.alarms import Alarms, clockwork_for
from screens.senses.buzz import Buzz
from screens.senses.chime import Chime
from screens.senses.crier import Crier
from screens.senses.keep_awake import KeepAwake
from screens.senses.speak import Speak, voice_for


@dataclass(frozen=True)
class Senses:
    """The senses of one handheld."""

    chime: Chime
    buzz: Buzz
    speak: Speak
    keep_awake: KeepAwake
    alarms: Alarms

    def crier(self) -> Crier:
        """Give a crier that uses these senses."""
        return Crier(self.chime, self.buzz, self.speak)

    def close(self) -> None:
        """Stop the thread of speech; alarms stay armed, for they take the place of an app that is closed."""
        self.speak.close()


def senses_for(system: str, sounds_folder: Path) -> Senses:
    """Give the senses of a system, named as `kivy.utils.platform` names it.

    Call `chime.preload` before the window is made. Nothing here makes a window or loads a sound.
    """
    chime, buzz = Chime(sounds_folder, when_needed=system == "android"), Buzz(system)
    return Senses(
        chime=chime,
        buzz=buzz,
        speak=Speak(voice_for(system)),
        keep_awake=KeepAwake(),
        alarms=Alarms(clockwork_for(system), lambda: chime.volume > 0.0, lambda: buzz.on),
    )
