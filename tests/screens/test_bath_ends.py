"""Baths on the Watch in the language in use: what ends their life, whichever clock ends first, and what they hold."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import harness
import pytest
from lead_scene import Scene, Shown

from protocols import bath as rules
from screens import languages, words

Open = Callable[..., harness.Screen]
# Days of the bath in the scene: poured on 25 Nov from a container opened the day before.
ENDS = {
    "the printed expiry": {"expires": "2026-11-27"},
    "the opened container's life": {"opened_d_max": 3},
    "the reuse life": {"reuse_d_max": 2},
}


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    words.use_language("en")


@pytest.mark.parametrize("language", list(languages.NAMES))
@pytest.mark.parametrize("end", list(ENDS))
def test_the_end_of_a_bath_is_said_in_the_language_in_use(open_screen: Open, language: str, end: str) -> None:
    languages.use(language)
    scene = Scene()
    unit = scene.door.unit
    bath = unit.baths["H1"]._replace(**ENDS[end])
    scene.door.unit = unit._replace(baths={**unit.baths, "H1": bath})
    last = rules.last_day(bath, unit.settings.zone)
    assert last is not None and last[1] == end
    texts = " ".join(Shown(open_screen(412, 892), scene, "watch").all_texts())
    assert (end in texts) is (language == "en")


@pytest.mark.parametrize(("language", "name"), [("en", "detergent"), ("de", "Reiniger"), ("es", "detergente")])
def test_a_detergent_without_a_name_is_named_in_the_language_in_use(
    open_screen: Open, language: str, name: str
) -> None:
    languages.use(language)
    scene = Scene()
    scene.pour("detergent", "W1")
    shown = Shown(open_screen(412, 892), scene, "watch")
    assert name in shown.all_texts()
