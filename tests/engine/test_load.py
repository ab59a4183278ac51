"""Each rule of the loader, broken one at a time: the whole finding is expected, and nothing else."""

from __future__ import annotations

import hashlib
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from load_cases import GOOD, added, fig, findings, in_step, step_text

from protocols.errors import ProtocolFault
from protocols.load import LINE_LONGEST, STEPS_MOST, TEXT_BYTES_MOST, read_protocol
from protocols.model import CONDITIONS, NEEDS, RECORDS, STAGES, Move

UNIT = "write the figure of the IFU or label, in the unit at the end of the key"


def test_good_text_becomes_the_whole_model() -> None:
    protocol = read_protocol(GOOD, "f.toml")
    assert protocol.text_sha256 == hashlib.sha256(GOOD.encode()).hexdigest()
    assert [s.id for s in protocol.steps] == list(protocol.positions)
    assert all(protocol.steps[place].id == name for name, place in protocol.positions.items())
    immerse, inspect = protocol.step("immerse"), protocol.step("inspect")
    assert immerse.temp_c_min is not None and immerse.temp_c_min.value == 20
    assert (immerse.temp_c_min.source, immerse.temp_c_min.how) == ("invented", "facility")
    assert immerse.begins_cleaning and not immerse.ends_cleaning and protocol.step("rinse").ends_cleaning
    assert [(o.word, o.move, o.back_to) for o in inspect.outcomes] == [
        ("clean", Move.NEXT, ""), ("debris", Move.BACK, "immerse"),
    ]  # fmt: skip
    assert [(x.method, x.meter) for x in protocol.step("verify").limits] == [
        ("protein", "any"),
        ("ATP", "meter A"),
    ]
    assert (protocol.delay.origin, protocol.delay.limit_s_max.value) == ("procedure-end", 3600)
    assert protocol.claims == ("opa-055-20c",) and protocol.disinfect_by == "soak"


STEP_FAULTS = [
    (
        in_step("ppe", '"look"', '"glance"'),
        'step[1] "ppe".kind: "glance" is not known; use one of: look, pass, count, soak, reading, machine run',
    ),
    (
        in_step("ppe", '"prepare"', '"begin"'),
        f'step[1] "ppe".stage: "begin" is not known; use one of: {", ".join(STAGES)}',
    ),
    (
        in_step("extended", '"delayed"', '"late"'),
        f'step[4] "extended".when: "late" is not known; use one of: {", ".join(CONDITIONS)}',
    ),
    (
        in_step("ppe", '["ppe"]', '["hat"]'),
        f'step[1] "ppe".needs: "hat" is not known; use one of: {", ".join(NEEDS)}',
    ),
    (
        in_step("immerse", '["temp_c"]', '["temp_c", "mood"]'),
        f'step[3] "immerse".records: "mood" is not known; use one of: {", ".join(RECORDS)}',
    ),
    (
        in_step("immerse", '"detergent"', '"soup"'),
        'step[3] "immerse".bath: "soup" is not known; use one of: detergent, disinfectant, air',
    ),
    (
        in_step("immerse", 'bath = "detergent"', 'bath = "air"'),
        'step[3] "immerse".bath: only a soak has contact in this bath; make it kind "soak", or use bath "detergent"',
    ),
    (
        added("brush", 'caution = "x"'),
        'step[5] "brush".caution: is not a key that is known here; did you mean "cautions"?',
    ),
    (added("brush", "qqq = 1"), 'step[5] "brush".qqq: is not a key that is known here; take it out'),
    (
        added("brush", fig("times", 2)),
        'step[5] "brush".times: does not belong to a step of kind "pass"; take it out or change the kind',
    ),
    (
        in_step("rinse", fig("times", 1), ""),
        'step[6] "rinse".times: is missing; a step of kind "count" needs it',
    ),
    (
        in_step("brush", '"brush"', '"Brush 1"'),
        'step[5] "Brush 1".id: "Brush 1" is not an id; use lower case words '
        'joined by hyphens, at most 40 characters, like "leak-test"',
    ),
    (
        in_step("brush", '"Brush the channel."', f'"{"x" * 91}"'),
        'step[5] "brush".says: has 91 characters; shorten it to 90',
    ),
    (
        in_step("brush", '"Brush the channel."', '"a\\nb"'),
        'step[5] "brush".says: holds a line break or another unprintable character; write it on one line',
    ),
    (
        in_step("brush", '"Brush the channel."', '" "'),
        'step[5] "brush".says: is empty; write a text in quotes',
    ),
    (
        in_step("brush", '"Brush the channel."', "7"),
        'step[5] "brush".says: 7 is not a text; write a text in quotes',
    ),
    (
        in_step("brush", 'says = "Brush the channel."\n', ""),
        'step[5] "brush".says: is missing; write a text in quotes',
    ),
    (
        added("brush", "optional = 1"),
        'step[5] "brush".optional: 1 is not true or false; write true or false without quotes',
    ),
    (
        added("brush", 'cautions = "x"'),
        'step[5] "brush".cautions: "x" is not a list; write it in square brackets',
    ),
    (
        added("brush", 'cautions = ["x", "x"]'),
        'step[5] "brush".cautions[2]: "x" stands there twice; take one out',
    ),
    (
        in_step("ppe", '{ on = "next" }', '{ on = "forth" }'),
        'step[1] "ppe".outcomes.on: "forth" leads nowhere; use next, again, back:STEP, leak or out',
    ),
    (
        in_step("ppe", '{ on = "next" }', '{ On = "next" }'),
        'step[1] "ppe".outcomes."On": is not a word for an outcome; use lower case, like "debris"',
    ),
    (in_step("ppe", '{ on = "next" }', "{}"), 'step[1] "ppe".outcomes: has 0 entries; write 1 to 8 outcomes'),
    (
        in_step("immerse", 'records = ["temp_c"]\n', ""),
        'step[3] "immerse".records: a temperature limit stands here but none is recorded; add "temp_c"',
    ),
    (
        added("ppe", fig("temp_c_max", 35) + 'records = ["temp_c"]'),
        'step[1] "ppe".bath: a temperature limit stands here but no bath; write bath = "detergent", or take it out',
    ),
    (
        added("brush", 'records = ["place"]'),
        'step[5] "brush".records: does not belong to a step of kind "pass"; take it out or change the kind',
    ),
    (
        in_step("verify", "optional = true", 'optional = true\nneeds = ["ppe"]'),
        'step[8] "verify".needs: does not belong to a step of kind "reading"; take it out or change the kind',
    ),
    (
        in_step("alcohol", 'records = ["alcohol_pct"]\n', ""),
        'step[12] "alcohol".alcohol_pct_min: an alcohol strength '
        "needs its range and its record together; give alcohol_pct_min, alcohol_pct_max and "
        'records "alcohol_pct", '
        "or none of them",
    ),
    (
        in_step("machine", 'when = "machine"\n', ""),
        'step[9] "machine".when: a machine run is one of two ways to disinfect; write when = "machine"',
    ),
    (
        in_step("extended", fig("soak_s_min", 600), ""),
        'step[4] "extended".soak_s_min: is missing; a soak in detergent needs a shortest time',
    ),
    (
        in_step("air", fig("soak_s_min", 600), ""),
        'step[13] "air".soak_s_min: is missing; a soak in air needs a shortest time',
    ),
    (
        added("air", fig("soak_s_max", 900)),
        'step[13] "air".soak_s_max: does not belong to a soak in air; '
        "take it out: drying goes on until the scope is dry",
    ),
    (
        added("hld", fig("soak_s_min", 600)),
        'step[10] "hld".soak_s_min: does not belong to a soak in disinfectant; '
        "take it out: the claim of the bath decides it",
    ),
    (
        added("hld", fig("soak_s_max", 900)),
        'step[10] "hld".over_s_max: stands beside soak_s_max; keep one of the two: they limit the same soak',
    ),
    (
        in_step("verify", fig("action_from", 6.4), ""),
        'step[8] "verify".limit[1]: has no single meaning; '
        "give action_from (and alert_from), or pass_below, or pass_to, and nothing else",
    ),
    (
        in_step("verify", fig("alert_from", 3), fig("alert_from", 7)),
        'step[8] "verify".limit[1].alert_from: 7 is not below action_from 6.4; mend one of the two',
    ),
    (
        in_step("verify", '"ATP"', '"protein"'),
        'step[8] "verify".limit[2].meter: another limit of this method already '
        "covers this meter; keep one limit for each meter",
    ),
]


@pytest.mark.parametrize(("text", "expected"), STEP_FAULTS)
def test_a_step_that_breaks_one_rule(text: str, expected: str) -> None:
    assert findings(text) == [f"f.toml: {expected}"]


def test_texts_beyond_the_size_limits() -> None:
    comment = "# " + "x" * 900 + "\n"
    text = comment * (TEXT_BYTES_MOST // len(comment) + 1)
    assert findings(text) == [f"f.toml: text: the text has {len(text)} bytes; shorten it to {TEXT_BYTES_MOST}"]
    text = "#\n" + "a." * LINE_LONGEST
    rule = f"line 2 has {2 * LINE_LONGEST} characters; break it into lines of at most {LINE_LONGEST}"
    assert findings(text) == [f"f.toml: text: {rule}"]
    many = GOOD + step_text("brush") * (STEPS_MOST - 14)
    assert findings(many) == [
        f"f.toml: step: has {STEPS_MOST + 1} entries; at most {STEPS_MOST} are read; split the file"
    ]


def test_texts_that_are_no_toml() -> None:
    (torn,) = findings(GOOD[:-5])
    assert torn.startswith("f.toml: text: is not TOML: ") and torn.endswith("; mend that place")
    assert findings("\ud800") == ["f.toml: text: the text is not valid Unicode; save the file as UTF-8"]
    deep = "a = " + "\n".join(["[" * 900] * 20)
    assert findings(deep) == ["f.toml: text: is nested too deeply; write tables and lists only as deep as the schema"]


def test_every_finding_is_named_at_once() -> None:
    text = in_step("immerse", fig("temp_c_min", 20), fig("temp_c_min", -1)).replace('spoken = "good"\n', "")
    text = text.replace(step_text("air"), "")
    assert findings(text) == [
        f'f.toml: step[3] "immerse".temp_c_min.value: -1 is outside 0 to 100; {UNIT}',
        "f.toml: spoken: is missing; write a text in quotes",
        'f.toml: step: no drying by air; add a soak with bath = "air"',
    ]


@given(st.data())
def test_a_mutated_text_gives_a_protocol_or_only_protocol_faults(data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(GOOD)))
    length = data.draw(st.integers(0, 40))
    middle = data.draw(
        st.one_of(st.text(max_size=20), st.sampled_from(["[", "{", '"', "nan", "-1", "true", "[[step]]\n"]))
    )
    _reads_or_faults(GOOD[:start] + middle + GOOD[start + length :])


_VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(),
        st.sampled_from(['"x"', "nan", "-inf", "1e300", "07:32:00", "1979-05-27"]),
    ),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)


@given(st.integers(0, 200), _VALUES)
def test_a_value_of_any_type_gives_a_protocol_or_only_protocol_faults(place: int, value: object) -> None:
    lines = GOOD.split("\n")
    place %= len(lines)
    key, equals, _ = lines[place].partition(" = ")
    lines[place] = f"{key} = {str(value).replace(chr(39), '').lower()}" if equals else key
    _reads_or_faults("\n".join(lines))


def _reads_or_faults(text: str) -> None:
    try:
        protocol = read_protocol(text, "f.toml")
    except ProtocolFault as fault:
        assert fault.findings
        assert all("\n" not in str(finding) for finding in fault.findings)
    else:
        assert protocol.id == tomllib.loads(text)["id"]
        assert all(step.outcomes for step in protocol.steps if step.kind == "look")
