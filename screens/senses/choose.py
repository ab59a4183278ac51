"""Puts the senses of this platform together."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from screens.senses.buzz import Buzz
from screens.senses.chime import Chime
from screens.senses.crier import Crier
from screens.senses.keep_awake import KeepAwake
from screens.senses.notify import Notify, board_for
from screens.senses.speak import Speak, voice_for


@dataclass(frozen=True)
class Senses:
    """The senses of one handheld."""

    chime: Chime
    buzz: Buzz
    speak: Speak
    notify: Notify
    keep_awake: KeepAwake

    def crier(self) -> Crier:
        """Give a crier that uses these senses."""
        return Crier(self.chime, self.buzz, self.speak)

    def close(self) -> None:
        """Stop the threads of speech and notices."""
        self.speak.close()
        self.notify.close()


def senses_for(system: str, sounds_folder: Path) -> Senses:
    """Give the senses of a system, named as `kivy.utils.platform` names it.

    Call `chime.preload` before the window is made. Nothing here makes a window or loads a sound.
    """
    return Senses(
        chime=Chime(sounds_folder, when_needed=system == "android"),
        buzz=Buzz(system),
        speak=Speak(voice_for(system)),
        notify=Notify(board_for(system)),
        keep_awake=KeepAwake(),
    )
