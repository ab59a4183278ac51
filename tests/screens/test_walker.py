"""Every page in every state, over sizes, type sizes, languages and themes: texts whole, targets large, contrast kept.

The default run builds every page once for each type size and language, and lays it out anew for the sizes in which
every two of size, type size, language and theme meet; `BASINBELL_WALK_ALL=1` walks the whole product.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations, product

import faults_on_pages
import harness
import pytest
import rooms

from screens import languages, words

Open = Callable[..., harness.Screen]

SMALL, HANDHELD, TABLET = (360, 640), (412, 892), (1280, 800)
# Handhelds on their side: two columns, the tabs beside the page.
SIDE, SMALL_SIDE = (892, 412), (640, 360)
SIZES = (SMALL, SIDE, HANDHELD, SMALL_SIDE, TABLET)
TYPES, THEMES = (1.0, 1.3), ("enamel", "night")
LANGUAGES = tuple(languages.NAMES)
ALL = os.environ.get("BASINBELL_WALK_ALL") == "1"


@dataclass(frozen=True)
class Build:
    """Pages built once: for a type size, a language and a theme; `sizes` are those they are laid out for."""

    scale: float
    language: str
    look: str
    sizes: tuple[tuple[int, int], ...]

    def __str__(self) -> str:
        return f"{self.scale}-{self.language}-{self.look}"


def builds(whole: bool) -> list[Build]:
    """Give the whole product, or the builds in which every two values of different kinds meet.

    Five sizes in three languages can't meet in fewer than 15 layouts, and 15 are enough: each language has a size in
    one type size, the next language in the other, and the theme changes with both.
    """
    if whole:
        return [Build(*parts, SIZES) for parts in product(TYPES, LANGUAGES, THEMES)]
    found = []
    for (large, scale), (at, language) in product(enumerate(TYPES), enumerate(LANGUAGES)):
        look = THEMES[1 - large if at == len(LANGUAGES) - 1 else large]
        sizes = tuple(size for number, size in enumerate(SIZES) if (number + at) % 2 == large)
        found.append(Build(scale, language, look, sizes))
    return found


def _states(screen: harness.Screen) -> Iterator[str]:
    yield from rooms.bench_states(screen)
    yield from rooms.lead_states(screen)
    yield from rooms.other_shells(screen)


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    yield
    words.use_language("en")


def test_every_two_of_size_type_language_and_theme_meet() -> None:
    met = {
        pair
        for build in builds(whole=False)
        for size in build.sizes
        for pair in combinations((size, build.scale, build.language, build.look), 2)
    }
    kinds = (SIZES, TYPES, LANGUAGES, THEMES)
    assert met == {pair for one, other in combinations(kinds, 2) for pair in product(one, other)}
    assert sum(len(build.sizes) for build in builds(whole=False)) == 15
    assert {build.look for build in builds(whole=False) if build.language == LANGUAGES[0]} == set(THEMES)
    assert sum(len(build.sizes) for build in builds(whole=True)) == 60


@pytest.mark.parametrize("build", builds(ALL), ids=str)
def test_every_text_is_whole_and_every_target_large_enough(open_screen: Open, build: Build) -> None:
    """And in the builds of one language, one in each theme, every text stands out from what is really behind it.

    WCAG 2.2: 1.4.6 asks 7:1 of what is read at a glance, 1.4.3 asks 4.5:1 of the rest.
    """
    languages.use(build.language)
    screen = open_screen(*build.sizes[0], font_scale=build.scale, look=build.look)
    screen.drawing, screen.walked = False, build.sizes
    faults: dict[str, str] = {}
    seen = set()
    pale = build.language == LANGUAGES[0]
    for name in _states(screen):
        seen.add(name)
        found = faults_on_pages.faults(screen)
        if pale and screen.first_look:
            screen.drawing = True
            found += faults_on_pages.contrasts(screen)
            screen.drawing = False
        for fault in found:
            faults.setdefault(fault, f"{name} at {screen.size_now}")
    assert {f"{name}: {fault}" for fault, name in faults.items()} == set()
    assert len(seen) > 70


@pytest.mark.parametrize("look", THEMES)
def test_every_text_of_a_widget_stands_out_from_what_is_really_behind_it(open_screen: Open, look: str) -> None:
    screen = open_screen(*SMALL, look=look)
    faults = {f"{name}: {fault}" for name in rooms.widget_states(screen) for fault in faults_on_pages.contrasts(screen)}
    assert faults == set()


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
