"""Every page in every state, over sizes, type sizes, languages and themes: texts whole, targets large, contrast kept.

The default run walks a set in which every size meets every type size, and two languages;
`BASINBELL_WALK_ALL=1` walks the whole product.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from itertools import product

import faults_on_pages
import harness
import pytest
import rooms

from screens import languages, words

Open = Callable[..., harness.Screen]

SMALL, HANDHELD, TABLET = (360, 640), (412, 892), (1280, 800)
SIZES, TYPES, THEMES = (SMALL, HANDHELD, TABLET), (1.0, 1.3), ("enamel", "night")
CHOSEN = [
    (SMALL, 1.0, "de"), (SMALL, 1.3, "es"), (HANDHELD, 1.0, "en"),
    (HANDHELD, 1.3, "de"), (TABLET, 1.0, "es"), (TABLET, 1.3, "en"),
]  # fmt: skip
ALL = os.environ.get("BASINBELL_WALK_ALL") == "1"
WALKS = list(product(SIZES, TYPES, languages.NAMES)) if ALL else CHOSEN


def _states(screen: harness.Screen) -> Iterator[str]:
    yield from rooms.bench_states(screen)
    yield from rooms.lead_states(screen)


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    words.use_language("en")


@pytest.mark.parametrize("walk", WALKS, ids=lambda walk: "x".join(str(part) for part in (*walk[0], *walk[1:])))
def test_every_text_is_whole_and_every_target_large_enough(
    open_screen: Open, walk: tuple[tuple[int, int], float, str]
) -> None:
    (width, height), scale, language = walk
    languages.use(language)
    screen = open_screen(width, height, font_scale=scale)
    screen.drawing = False
    faults: dict[str, str] = {}
    seen = []
    for name in _states(screen):
        seen.append(name)
        for fault in faults_on_pages.faults(screen):
            faults.setdefault(fault, name)
    assert {f"{name}: {fault}" for fault, name in faults.items()} == set()
    assert len(set(seen)) > 40


@pytest.mark.parametrize("look", THEMES)
def test_every_text_stands_out_from_what_is_really_behind_it(open_screen: Open, look: str) -> None:
    """WCAG 2.2: 1.4.6 asks 7:1 of what is read at a glance, 1.4.3 asks 4.5:1 of the rest."""
    screen = open_screen(*SMALL, look=look)
    screen.drawing = False
    faults: dict[str, str] = {}
    for name in (*_first_leaves(_states(screen)), *rooms.widget_states(screen)):
        screen.drawing = True
        for fault in faults_on_pages.contrasts(screen):
            faults.setdefault(fault, name)
        screen.drawing = False
    assert {f"{name}: {fault}" for fault, name in faults.items()} == set()


def _first_leaves(states: Iterator[str]) -> Iterator[str]:
    return (name for name in states if ", leaf" not in name)


def test_faults_are_noticed(open_screen: Open) -> None:
    """A walker that finds nothing on a bad page would prove nothing."""
    from kivy.uix.floatlayout import FloatLayout

    from screens.widgets.button import BigButton
    from screens.widgets.text import Words

    screen = open_screen(*SMALL)
    page = FloatLayout()
    low = BigButton("Rinse", small=True, least_height=20, size_hint=(None, None), pos=(20, 20))
    near = BigButton("Flush", small=True, size_hint=(None, None), pos=(122, 20))
    dim = Words("Lift out", step="headline", role="rule", pos=(20, 300), size_hint=(None, None), width=300)
    page.add_widget(low)
    page.add_widget(near)
    page.add_widget(dim)
    screen.show(page)
    found = faults_on_pages.small_targets(screen)
    assert any("'Rinse' is" in fault and "px high" in fault for fault in found)
    assert any("'Rinse' and BigButton 'Flush' are 2 px apart" in fault for fault in found)
    assert any("'Lift out'" in fault for fault in faults_on_pages.contrasts(screen))
