"""Each rule on one figure, broken one at a time: the whole finding is expected, and nothing else."""

from __future__ import annotations

import pytest
from load_cases import FIGURE, fig, findings, in_step

from protocols.load import read_protocol
from protocols.model import HOW_KNOWN

UNIT = "write the figure of the IFU or label, in the unit at the end of the key"
WHOLE_FIGURE = 'write { value = 600, source = "where it stands", how = "IFU" }'
HOWS = ", ".join(HOW_KNOWN)

FIGURE_FAULTS = [
    ("-5", f"value: -5 is outside 0 to 100; {UNIT}"),
    ("101", f"value: 101 is outside 0 to 100; {UNIT}"),
    ("nan", f"value: nan is not a finite number; {UNIT}"),
    ("-inf", f"value: -inf is not a finite number; {UNIT}"),
    ("1e400", f"value: inf is not a finite number; {UNIT}"),
    ("9" * 400, f"value: a number beyond 1e15 is outside 0 to 100; {UNIT}"),
    ("true", f"value: true is not a number; {UNIT}"),
    ('"20"', f'value: "20" is not a number; {UNIT}'),
    ("2026-11-25", f"value: a date or time is not a number; {UNIT}"),
]


@pytest.mark.parametrize(("value", "expected"), FIGURE_FAULTS)
def test_a_figure_that_is_no_usable_number(value: str, expected: str) -> None:
    text = in_step("immerse", fig("temp_c_min", 20), fig("temp_c_min", value))
    assert findings(text) == [f'f.toml: step[3] "immerse".temp_c_min.{expected}']


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        ("600", f": 600 is not a table; {WHOLE_FIGURE}"),
        ('{ value = 20, how = "IFU" }', ".source: is missing; write a text in quotes"),
        ('{ value = 20, source = "x" }', ".how: is missing; write a text in quotes"),
        ('{ source = "x", how = "IFU" }', f".value: is missing; {UNIT}"),
        ('{ value = 20, source = "x", how = "guess" }', f'.how: "guess" is not known; use one of: {HOWS}'),
        ('{ value = 2, source = "x", how = "IFU", q=1 }', ".q: is not a key that is known here; take it out"),
    ],
)  # fmt: skip
def test_a_figure_without_its_parts(figure: str, expected: str) -> None:
    text = in_step("immerse", FIGURE % 20, figure)
    assert findings(text) == [f'f.toml: step[3] "immerse".temp_c_min{expected}']


@pytest.mark.parametrize(
    ("step", "low", "high", "place"),
    [
        ("extended", ("soak_s_min", 600), ("soak_s_max", 3600), 4),
        ("immerse", ("temp_c_min", 20), ("temp_c_max", 35), 3),
        ("machine", ("run_s_min", 1200), ("run_s_max", 3600), 9),
        ("alcohol", ("alcohol_pct_min", 70), ("alcohol_pct_max", 90), 12),
    ],
)
def test_a_maximum_below_its_minimum(step: str, low: tuple[str, int], high: tuple[str, int], place: int) -> None:
    text = in_step(step, fig(*high), fig(high[0], low[1] - 1))
    expected = f"{high[0]}: {low[1] - 1} is below {low[0]} {low[1]}; mend one of the two"
    assert findings(text) == [f'f.toml: step[{place}] "{step}".{expected}']
    read_protocol(in_step(step, fig(*high), fig(high[0], low[1])), "f.toml")


def test_times_are_whole() -> None:
    text = in_step("rinse", fig("times", 1), fig("times", 1.5))
    assert findings(text) == [f'f.toml: step[6] "rinse".times.value: 1.5 is not a whole number; {UNIT}']
