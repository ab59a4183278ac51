"""Speech on Android, against a stand-in for pyjnius; nothing here was run on a device."""

from __future__ import annotations

import sys
import types
from typing import Any

import pytest

from screens.senses.speak_android import AndroidVoice


class Java:
    """Records every call made on Java objects; any class and any method exist."""

    def __init__(self, log: list[tuple[Any, ...]], name: str, answers: dict[str, Any]) -> None:
        self._log, self._name, self._answers = log, name, answers

    def __getattr__(self, member: str) -> Any:
        if f"{self._name}.{member}" in self._answers and not callable(self._answers[f"{self._name}.{member}"]):
            return self._answers[f"{self._name}.{member}"]
        return Java(self._log, f"{self._name}.{member}", self._answers)

    def __call__(self, *args: Any) -> Any:
        self._log.append((self._name, *args))
        answer = self._answers.get(self._name)
        return answer() if callable(answer) else Java(self._log, self._name + "()", self._answers)


@pytest.fixture
def java(monkeypatch: pytest.MonkeyPatch) -> tuple[list[tuple[Any, ...]], dict[str, Any]]:
    log: list[tuple[Any, ...]] = []
    answers: dict[str, Any] = {}
    bridge = types.ModuleType("jnius")
    bridge.autoclass = lambda name: Java(log, name.rsplit(".", 1)[-1], answers)  # type: ignore[attr-defined]
    bridge.cast = lambda name, value: value  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "jnius", bridge)
    return log, answers


def test_one_engine_speaks_every_sentence(java: tuple[list[tuple[Any, ...]], dict[str, Any]]) -> None:
    log, answers = java
    results = iter([-1, -1, 0, 0])  # a new engine refuses until it has started
    answers["TextToSpeech().speak"] = lambda: next(results)
    waited: list[float] = []
    voice = AndroidVoice(pause=waited.append)
    assert voice.can()
    assert voice.speak("broncho two, lift out", "en")
    assert voice.speak("gastro seven, rinse", "en")
    assert len(waited) == 2
    assert sum(entry[0] == "TextToSpeech" for entry in log) == 1
    voice.close()
    assert log[-1] == ("TextToSpeech().shutdown",)


def test_an_engine_that_never_starts_is_told(java: tuple[list[tuple[Any, ...]], dict[str, Any]]) -> None:
    _, answers = java
    answers["TextToSpeech().speak"] = lambda: -1
    assert AndroidVoice(pause=lambda _: None).speak("broncho two", "en").why == "why.voice_failed"
