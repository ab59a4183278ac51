"""Each sense does what it promises or says why not, and never raises into the work."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

from screens.senses import tones
from screens.senses.buzz import PATTERNS_S, Buzz
from screens.senses.chime import KEPT_ON_ANDROID, Chime
from screens.senses.choose import senses_for
from screens.senses.keep_awake import KeepAwake
from screens.senses.promise import LEVELS, YES, Can, no
from screens.senses.speak import Speak
from screens.senses.speak_desktop import DesktopVoice

ROOT = Path(__file__).resolve().parents[2]


class FakeSound:
    """Stands for a sound of Kivy; a device that is gone leaves `state` at stop, as the real one does."""

    device = True
    loaded = 0

    def __init__(self, path: str) -> None:
        self.path, self.volume, self.state = path, 1.0, "stop"
        self.length = 1.0 if self.device else 0.0
        type(self).loaded += 1

    def play(self) -> None:
        self.state = "play" if self.device else "stop"

    def unload(self) -> None:
        type(self).loaded -= 1


@pytest.fixture
def sounds() -> type[FakeSound]:
    return type("Sounds", (FakeSound,), {"loaded": 0})


def test_chime_plays_the_call_of_the_scope(tmp_path: Path, sounds: type[FakeSound]) -> None:
    played: list[str] = []
    chime = Chime(tmp_path, load=lambda path: played.append(path) or sounds(path))
    assert chime.can().why == "why.not_loaded"
    assert chime.play(0, "ready").why == "why.not_loaded"
    assert chime.preload(2)
    assert len(played) == 2 * len(LEVELS)
    assert chime.play(1, "late")
    assert chime.play(3, "late"), "a scope beyond those loaded shares a call rather than being silent"
    assert len(played) == 2 * len(LEVELS), "nothing is loaded once the window may exist"
    assert Path(played[-1]).name == "call-01-very_late.wav"


def test_chime_says_when_the_device_goes_away_and_when_it_comes_back(tmp_path: Path, sounds: type[FakeSound]) -> None:
    chime = Chime(tmp_path, load=sounds)
    assert chime.preload(1)
    sounds.device = False
    assert chime.play(0, "ready").why == "why.no_sound_device"
    assert chime.can().why == "why.no_sound_device"
    sounds.device = True
    assert chime.play(0, "ready")
    assert chime.can()


def test_chime_says_when_it_is_switched_off_or_the_disk_refuses(tmp_path: Path, sounds: type[FakeSound]) -> None:
    chime = Chime(tmp_path, load=sounds, volume=0.0)
    assert chime.preload(1)
    assert chime.can().why == chime.play(0, "late").why == "why.off"
    not_a_folder = tmp_path / "file"
    not_a_folder.write_text("in the way")
    assert Chime(not_a_folder, load=sounds).preload(1).why == "why.failed"


def test_on_android_few_sounds_are_held_at_a_time(tmp_path: Path, sounds: type[FakeSound]) -> None:
    chime = Chime(tmp_path, when_needed=True, load=sounds)
    assert chime.preload(10)
    for call in range(10):
        assert chime.play(call, "ready")
        assert sounds.loaded <= KEPT_ON_ANDROID


_REAL_START = """
import sys
import threading
from pathlib import Path
from screens.senses.chime import Chime
chime = Chime(Path(sys.argv[1]))
answer = chime.preload(2)
assert "kivy.core.window" not in sys.modules, "sounds must be loaded before the window"
print("preload", answer.ok, answer.why)
if answer:
    print("longest", max(sound.length for sound in chime._sounds.values()))
    import kivy.core.window
    print("play", chime.play(1, "late").ok)
"""


def _start(tmp_path: Path, audio: str) -> str:
    environment = {
        **os.environ,
        "SDL_AUDIODRIVER": audio,
        "KIVY_HOME": str(tmp_path / "home"),
        "KIVY_NO_ARGS": "1",
    }
    done = subprocess.run(
        [sys.executable, "-c", _REAL_START, str(tmp_path)],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_real_sounds_load_before_the_window_and_have_a_length(tmp_path: Path) -> None:
    told = _start(tmp_path, "dummy")
    assert "preload True" in told
    assert "play True" in told
    longest_s = float(told.split("longest ")[1].split()[0])
    assert longest_s == pytest.approx(max(rhythm.length_s for rhythm in tones.RHYTHMS.values()), abs=0.05)


def test_a_real_machine_without_a_sound_device_says_so(tmp_path: Path) -> None:
    assert "preload False why.no_sound_device" in _start(tmp_path, "there_is_no_such_driver")


class FakeVibrator:
    def __init__(self, there: bool = True) -> None:
        self.there, self.patterns = there, []

    def exists(self) -> bool:
        return self.there

    def pattern(self, pattern: list[float], repeat: int) -> None:
        self.patterns.append((tuple(pattern), repeat))


def test_buzz_vibrates_in_the_rhythm_of_the_level_on_android_only() -> None:
    vibrator = FakeVibrator()
    buzz = Buzz("android", lambda: vibrator)
    assert buzz.play("late")
    assert vibrator.patterns == [(PATTERNS_S["late"], -1)]
    assert Buzz("linux", lambda: vibrator).play("late").why == "why.no_vibrator"
    assert Buzz("android", lambda: FakeVibrator(there=False)).can().why == "why.no_vibrator"
    assert len(set(PATTERNS_S.values())) == len(LEVELS)
    assert all(len(pattern) % 2 == 0 for pattern in PATTERNS_S.values()), "each wait is followed by a buzz"


def test_buzz_does_not_raise_what_the_device_raises() -> None:
    def broken() -> Any:
        raise NotImplementedError  # what plyer raises where it has no vibrator

    assert Buzz("android", broken).play("ready").why == "why.no_vibrator"
    buzz = Buzz("android", FakeVibrator)
    buzz.on = False
    assert buzz.play("ready").why == buzz.can().why == "why.off"


class FakeVoice:
    def __init__(self, answer: Can = YES) -> None:
        self.answer, self.said, self.closed, self.heard = answer, [], False, threading.Event()

    def can(self) -> Can:
        return self.answer

    def speak(self, words: str, language: str) -> Can:
        self.said.append((words, language))
        self.heard.set()
        return YES

    def close(self) -> None:
        self.closed = True


def test_speak_hands_over_and_closes() -> None:
    voice = FakeVoice()
    speak = Speak(voice)
    assert speak.say("B2-lift", "broncho two, lift out", "late")
    assert voice.heard.wait(10.0)
    speak.close()
    assert voice.said == [("broncho two, lift out", "en")]
    assert voice.closed
    assert Speak(FakeVoice(no("no_voice"))).say("k", "w", "late").why == "why.no_voice"
    assert Speak(FakeVoice(), on=False).say("k", "w", "late").why == "why.off"


def test_a_voice_that_fails_is_told_at_the_next_prompt() -> None:
    class Broken(FakeVoice):
        def speak(self, words: str, language: str) -> Can:
            raise TimeoutError(words)

    speak = Speak(Broken())
    speak._speak("broncho two")
    assert speak.can().why == "why.voice_failed"
    speak.close()


@pytest.mark.parametrize(
    ("program", "command"),
    [
        ("/usr/bin/espeak-ng", ["/usr/bin/espeak-ng", "-v", "en", "--", "rm lift out"]),
        ("/usr/bin/flite", ["/usr/bin/flite", "-t", "rm lift out"]),
    ],
)
def test_the_desktop_voice_never_takes_words_for_options(program: str, command: list[str]) -> None:
    ran: list[tuple[list[str], dict[str, Any]]] = []
    voice = DesktopVoice(
        find=lambda name: program if program.endswith("/" + name) else None,
        run=lambda *a, **k: ran.append((a[0], k)),
    )
    assert voice.can()
    assert voice.speak("--rm lift out", "en")
    assert ran[0][0] == command
    assert ran[0][1]["timeout"] > 0
    assert DesktopVoice(find=lambda name: None).can().why == "why.no_voice"


def test_keep_awake_through_the_window() -> None:
    window = type("Window", (), {"allow_screensaver": True})()
    keep = KeepAwake(lambda: window)
    assert keep.hold(True)
    assert window.allow_screensaver is False
    assert keep.hold(False)
    assert window.allow_screensaver is True
    assert KeepAwake(lambda: None).hold(True).why == "why.no_window"


@pytest.mark.parametrize("system", ["linux", "android", "win", "macosx"])
def test_every_system_gets_senses_that_answer(system: str, tmp_path: Path) -> None:
    senses = senses_for(system, tmp_path)
    for sense in (senses.chime, senses.buzz, senses.speak, senses.keep_awake, senses.alarms):
        answer = sense.can()
        assert answer or answer.why.startswith("why.")
    assert "chime" in senses.crier().failures
    senses.close()
