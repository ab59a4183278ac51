"""The sound check in Setup: each call sounds by a press, and what the device can't do is said at once."""

from __future__ import annotations

from collections.abc import Callable

import harness
import stage
from test_bench import with_senses

from screens.senses.choose import Senses
from screens.senses.promise import no

Open = Callable[..., harness.Screen]


def test_each_call_vibration_and_speech_by_a_press(open_screen: Open) -> None:
    app = stage.bench(open_screen(360, 640, font_scale=1.3))
    senses, _ = with_senses(app)
    app.shell.senses = Senses(**senses)  # type: ignore[arg-type]
    app.go("setup-sounds")
    assert "Press each one and listen." in app.screen.texts()
    for name in ("Soon", "Ready", "Late", "Very late"):
        app.tap(name)
    assert senses["chime"].calls == [(0, "soon"), (0, "ready"), (0, "late"), (0, "very_late")]
    app.tap("press for the next scope")
    app.tap("Ready")
    assert senses["chime"].calls[-1] == (1, "ready")
    app.tap("Vibration")
    app.tap("Speech")
    assert senses["buzz"].calls and senses["speak"].calls
    assert any(text.startswith("It spoke.") for text in app.screen.texts())


def test_what_the_device_can_not_do_is_said_before_and_after_a_press(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    senses, _ = with_senses(app, chime=no("no_sound_device"), buzz=no("no_vibrator"))
    app.shell.senses = Senses(**senses)  # type: ignore[arg-type]
    app.go("setup-sounds")
    said = "No sound: no sound device answers. No vibration: this device has no vibrator"
    assert said in app.screen.texts()
    app.tap("Late")
    assert "No sound: no sound device answers" in app.screen.texts()
    app.tap("Speech")
    assert any(text.startswith("It spoke.") for text in app.screen.texts())


def test_handheld_leads_to_it(open_screen: Open) -> None:
    app = stage.bench(open_screen(412, 892))
    app.go("setup-handheld")
    app.tap("Sound check")
    assert app.shell.page.key == "setup-sounds"
