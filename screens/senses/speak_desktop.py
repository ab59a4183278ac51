"""The voice of a desktop system: whichever small speech program is installed."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable

from screens.senses.promise import YES, Can, no

LONGEST_S = 12.0
"""A prompt takes two or three seconds to say; a program that takes longer than this hangs."""


class DesktopVoice:
    """Speaks through espeak-ng, espeak or flite."""

    def __init__(
        self, find: Callable[[str], str | None] = shutil.which, run: Callable[..., object] = subprocess.run
    ) -> None:
        """Take how a program is found and run."""
        self._run = run
        self._program = next((path for name in ("espeak-ng", "espeak", "flite") if (path := find(name))), None)

    def can(self) -> Can:
        """Say whether a speech program is installed."""
        return YES if self._program else no("no_voice")

    def speak(self, words: str, language: str) -> Can:
        """Say the words and wait until they are said; raises what running the program raises."""
        if not self._program:
            return no("no_voice")
        # Text that begins with a hyphen would be read as an option by these programs.
        text = words.lstrip("- ")
        if self._program.endswith("flite"):
            command = [self._program, "-t", text]
        else:
            command = [self._program, "-v", language, "--", text]
        self._run(
            command,
            check=True,
            timeout=LONGEST_S,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        return YES

    def close(self) -> None:
        """Hold nothing that needs closing: each sentence is a program of its own."""
