"""The theme keeps its promises about contrast, green and touch sizes."""

from __future__ import annotations

import ast
import colorsys
from pathlib import Path

import pytest

from screens import theme

SCREENS = Path(theme.__file__).parent

# Ratios of colour pairs: WCAG 2.2 definition (w3c/wcag, guidelines/terms/20/contrast-ratio and
# relative-luminance), computed and cross-checked with the package wcag-contrast-ratio 0.9. 4.54 and 4.48 are
# the well known last pass and first fail of grey on white at level AA; 7.00 the last pass at AAA.
PUBLISHED = [
    ("000000", "FFFFFF", 21.0),
    ("FFFFFF", "FFFFFF", 1.0),
    ("777777", "FFFFFF", 4.4781),
    ("767676", "FFFFFF", 4.5422),
    ("757575", "FFFFFF", 4.6075),
    ("595959", "FFFFFF", 7.0047),
    ("949494", "FFFFFF", 3.0335),
    ("959595", "FFFFFF", 2.9953),
    ("FF0000", "FFFFFF", 3.9985),
    ("008000", "FFFFFF", 5.1374),
    ("0000FF", "FFFFFF", 8.5925),
    ("FFFF00", "FFFFFF", 1.0738),
    ("FFFF00", "000000", 19.556),
    ("FF0000", "000000", 5.252),
    ("00FF00", "000000", 15.304),
    ("0000FF", "000000", 2.444),
]


@pytest.mark.parametrize(("one", "other", "ratio"), PUBLISHED)
def test_contrast_agrees_with_published_pairs(one: str, other: str, ratio: float) -> None:
    assert theme.contrast(one, other) == pytest.approx(ratio, abs=0.0006)
    assert theme.contrast(other, one) == theme.contrast(one, other)


@pytest.mark.parametrize("name", list(theme.THEMES))
@pytest.mark.parametrize("pair", theme.PAIRS, ids=lambda pair: f"{pair.text} on {pair.ground}")
def test_every_pair_can_be_read(name: str, pair: theme.Pair) -> None:
    # WCAG 2.2: 1.4.6 asks 7:1 (enhanced), 1.4.3 asks 4.5:1 (minimum), 1.4.11 asks 3:1 of marks that are not
    # text.
    least = {"read_fast": 7.0, "text": 4.5, "mark": 3.0}[pair.need]
    assert pair.ratio_min == least
    ratio = theme.contrast(theme.colour(pair.text, name), theme.colour(pair.ground, name))
    assert ratio >= least, f"{name}: {pair.text} on {pair.ground} has {ratio:.2f}:1, needs {least}:1"


def test_both_themes_hold_the_same_roles() -> None:
    enamel, night = (set(theme.THEMES[name]) for name in ("enamel", "night"))
    assert enamel == night
    assert theme.DEFAULT_THEME == "enamel"
    assert {role for pair in theme.PAIRS for role in (pair.text, pair.ground)} <= enamel


def test_words_and_times_are_never_a_pair_that_was_not_checked() -> None:
    """The words of buttons and banners stand on grounds that the pairs table demands 7:1 of."""
    fast = {(pair.text, pair.ground) for pair in theme.PAIRS if pair.need == "read_fast"}
    for text, ground in (("act_ink", "act"), ("over_ink", "over"), ("ready_ink", "ready"), ("ink", "panel")):
        assert (text, ground) in fast


def _is_green(digits: str) -> bool:
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    hue, _, saturation = colorsys.rgb_to_hls(red, green, blue)
    return 70 <= hue * 360 <= 170 and saturation > 0.12


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_green_is_kept_for_released(name: str) -> None:
    green = {role for role, digits in theme.THEMES[name].items() if _is_green(digits)}
    assert green == set(theme.RELEASED_ROLES) == {"released"}


def test_only_the_mark_of_a_released_scope_uses_the_green_role() -> None:
    users = set()
    for path in SCREENS.rglob("*.py"):
        if path.name in ("theme.py", "words.py"):
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            asks = isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
            name = (node.func.id if isinstance(node.func, ast.Name) else node.func.attr) if asks else ""
            if name in ("brush", "paint", "rgba", "colour"):
                constants = {
                    part.value for arg in node.args for part in ast.walk(arg) if isinstance(part, ast.Constant)
                }
                if "released" in constants:
                    users.add(path.name)
    assert users == {"state_mark.py"}


def test_no_widget_holds_a_colour_or_a_size_of_type_of_its_own() -> None:
    for path in (SCREENS / "widgets").glob("*.py"):
        if path.name in (
            "drawn.py",
            "text.py",
            "figure.py",
        ):  # these turn roles and steps into colours and sizes
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id != "Color", f"{path.name} makes a colour outside the theme"
            if isinstance(node, ast.keyword):
                assert node.arg not in ("font_size", "color"), f"{path.name} sets {node.arg} outside the theme"


def test_touch_sizes_in_millimetres() -> None:
    # 1 dp is 1/160 inch (Android documentation of density-independent pixels), 1 inch is 25.4 mm.
    assert theme.dp_of_mm(25.4) == pytest.approx(160.0)
    assert theme.dp_of_mm(15.0) <= theme.TARGET_CYCLE_DP < theme.dp_of_mm(15.5)
    assert theme.dp_of_mm(9.0) <= theme.TARGET_OTHER_DP < theme.dp_of_mm(9.5)
    assert theme.GAP_DP == 8.0
    # WCAG 2.2, 2.5.5 (enhanced): 44 x 44 CSS px; one CSS px is 1/96 inch.
    assert theme.TARGET_OTHER_DP * 25.4 / 160 >= 24 * 25.4 / 96  # 2.5.8 minimum, 24 CSS px
    assert theme.TARGET_CYCLE_DP * 25.4 / 160 >= 44 * 25.4 / 96


def test_unknown_names_are_refused_by_name() -> None:
    with pytest.raises(theme.UnknownRole, match="lilac"):
        theme.colour("lilac")
    with pytest.raises(theme.UnknownRole, match="huge"):
        theme.step_sp("huge")
    with pytest.raises(theme.UnknownRole, match="disco"):
        theme.use("disco")
    assert theme.name_in_use() == "enamel"


def test_theme_needs_no_kivy() -> None:
    imported = {
        alias.name.split(".")[0]
        for node in ast.walk(ast.parse((SCREENS / "theme.py").read_text("utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in ([ast.alias(node.module or "")] if isinstance(node, ast.ImportFrom) else node.names)
    }
    assert "kivy" not in imported
