"""The voice of Android: one speech engine kept for as long as the app runs.

plyer 2.1.0 is not used here: it makes a new engine for each sentence and never lets one go, fixes the
language to US English, and sleeps up to ten seconds. Not run on a device yet; its calls are tested against a
stand-in for pyjnius.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from screens.senses.promise import YES, Can, no

_TRIES = 20
_PAUSE_S = 0.25
_FLUSH = 0  # TextToSpeech.QUEUE_FLUSH
_SUCCESS = 0  # TextToSpeech.SUCCESS


class AndroidVoice:
    """Speaks through android.speech.tts.TextToSpeech."""

    def __init__(self, pause: Callable[[float], None] = time.sleep) -> None:
        """Take how to wait for the engine, which needs a moment after it was made."""
        self._pause = pause
        self._engine: Any = None

    def can(self) -> Can:
        """Say whether the bridge to Java is there; only the first words show whether a voice answers."""
        try:
            import jnius  # noqa: F401
        except ImportError:
            return no("no_voice")
        return YES

    def speak(self, words: str, language: str) -> Can:
        """Hand the words to the engine, waiting while it is new; call it off the screen's thread."""
        from jnius import autoclass

        if self._engine is None:
            activity = autoclass("org.kivy.android.PythonActivity").mActivity
            self._engine = autoclass("android.speech.tts.TextToSpeech")(activity, None)
        locale = autoclass("java.util.Locale")(language)
        for _ in range(_TRIES):
            # A language that has no voice still speaks with the engine's own: better a foreign accent than
            # silence.
            self._engine.setLanguage(locale)
            if self._engine.speak(words, _FLUSH, None) == _SUCCESS:
                return YES
            self._pause(_PAUSE_S)
        return no("voice_failed")

    def close(self) -> None:
        """Stop speaking and let the engine go."""
        if self._engine is not None:
            self._engine.shutdown()
            self._engine = None
