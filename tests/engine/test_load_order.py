"""The loader's rules on the top of the file, and on the order of steps, broken one at a time."""

from __future__ import annotations

import pytest
from load_cases import GOOD, added, at_top, fig, in_step, moved, step_text, without

from protocols.errors import ProtocolFault
from protocols.load import read_protocol

TOP_FAULTS = [
    (
        at_top('title = "Good"', 'titel = "Good"'),
        [
            'titel: is not a key that is known here; did you mean "title"?',
            "title: is missing; write a text in quotes",
        ],
    ),
    (at_top("version = 1", "version = 0"), ["version: 0 is outside 1 to 9999; write a number within"]),
    (
        at_top("version = 1", "version = 1.0"),
        ["version: 1.0 is not a whole number; write a whole number from 1 to 9999"],
    ),
    (
        at_top('channels = ["suction channel"]\n', ""),
        [
            "channels: is missing; write a list in square brackets; [] when there are none",
            'step[10] "hld".needs: the scope has no channel to fill; take "filled" out',
        ],
    ),
    (
        at_top('disinfect_by = "soak"', 'disinfect_by = "fire"'),
        ['disinfect_by: "fire" is not known; use one of: soak, machine'],
    ),
    (at_top('["opa-055-20c"]', '["OPA"]'), ['claims: "OPA" is not a claim id; write one like "opa-055-20c"']),
    (
        at_top('"procedure-end"', '"lunch"'),
        ['delay.origin: "lunch" is not known; use one of: procedure-end, preclean-start, preclean-end'],
    ),
    (
        at_top(fig("limit_s_max", 3600), ""),
        ['delay.limit_s_max: is missing; write { value = 600, source = "where it stands", how = "IFU" }'],
    ),
    (
        at_top(fig("warn_s", 1800), fig("warn_s", 3600)),
        ["delay.warn_s: 3600 is not below limit_s_max 3600; warn before the limit"],
    ),
    (GOOD.split("[[step]]")[0], ["step: is missing; write at least one [[step]]"]),
]

DISINFECT = 'add a soak in disinfectant (when = "soak") or a machine run (when = "machine")'
NO_RINSE = 'no rinse follows the soak; let the next step be a count that needs "fresh" and is not optional'
OUTCOME = "let one outcome be next"
LOOK_BEGINS = 'begins_cleaning = true\noutcomes = { clean = "next" }\n'
ORDER_FAULTS = [
    (
        in_step("brush", 'id = "brush"', 'id = "ppe"'),
        ['step[5] "ppe".id: stands there twice; give each step its own id'],
    ),
    (
        in_step("brush", '"clean"', '"leak test"'),
        [
            'step[5] "brush".stage: "leak test" comes after "clean"; order the steps by stage: '
            "prepare, leak test, clean, rinse, inspect, disinfect, final rinse, dry, store, repair"
        ],
    ),
    (
        in_step("air", '"dry"', '"store"'),
        ['step[13] "air".stage: "store" is not where this step belongs; write stage = "dry"'],
    ),
    (
        in_step("inspect", "back:immerse", "back:dip"),
        ['step[7] "inspect".outcomes.debris: "dip" is not a step; name a step of this protocol'],
    ),
    (
        in_step("inspect", "back:immerse", "back:store"),
        ['step[7] "inspect".outcomes.debris: "store" does not come before this step; name an earlier step'],
    ),
    (
        in_step("inspect", "back:immerse", "back:inspect"),
        ['step[7] "inspect".outcomes.debris: "inspect" does not come before this step; name an earlier step'],
    ),
    (
        in_step("inspect", "back:immerse", "back:extended"),
        [
            'step[7] "inspect".outcomes.debris: "extended" is only there when "delayed"; '
            "name a step that every such cycle has"
        ],
    ),
    (
        in_step("verify", 'fail_back_to = "immerse"', 'fail_back_to = "store"'),
        ['step[8] "verify".fail_back_to: "store" does not come before this step; name an earlier step'],
    ),
    (
        in_step("inspect", 'clean = "next"', 'clean = "again"'),
        ['step[7] "inspect".outcomes: the step can never be left; let one outcome be next or out'],
    ),
    (
        in_step("inspect", 'clean = "next"', 'clean = "out"'),
        [f'step[7] "inspect".outcomes: no outcome goes on, so no cycle can end; {OUTCOME}'],
    ),
    (
        in_step("leak-test", ', leak = "leak"', ""),
        ['step: no leak test; add a look with an outcome "leak" before the scope is immersed'],
    ),
    (
        added("leak-test", "optional = true"),
        ['step[2] "leak-test".optional: a leak test can\'t be left out; take optional out'],
    ),
    (
        added("leak-test", 'when = "soak"'),
        ['step[2] "leak-test".when: a leak test is there in every cycle; write when = "always"'],
    ),
    (
        moved("leak-test", "brush"),
        [
            'step[4] "leak-test".stage: "leak test" comes after "clean"; order the steps by stage: '
            "prepare, leak test, clean, rinse, inspect, disinfect, final rinse, dry, store, repair",
            'step[2] "immerse".bath: the scope is immersed before its leak test; move "leak-test" before it',
        ],
    ),
    (without("tag"), ['step: no leak branch; add looks with when = "leak" and stage = "repair"']),
    (
        added("tag", 'bath = "detergent"'),
        ['step[15] "tag".bath: a leaking scope is never immersed again; use a look without a bath'],
    ),
    (
        in_step("tag", '"look"', '"count"').replace('outcomes = { handed = "out" }\n', fig("times", 1)),
        ['step[15] "tag".kind: a leaking scope is never immersed again; use a look without a bath'],
    ),
    (
        added("tag", "optional = true"),
        ['step[15] "tag".optional: the leak branch can\'t be left out; take optional out'],
    ),
    (
        in_step("tag", 'needs = ["tag"]\n', ""),
        ['step: the leak branch names no tag or no owner; let a step need "tag" and record "owner"'],
    ),
    (
        in_step("tag", 'records = ["owner"]\n', ""),
        ['step: the leak branch names no tag or no owner; let a step need "tag" and record "owner"'],
    ),
    (
        in_step("tag", '"out"', '"next"'),
        [
            'step[15] "tag".outcomes: a leaking scope would end like a finished one; '
            'let the last outcome of the leak branch be "out"'
        ],
    ),
    (
        added("brush", 'when = "leak"'),
        [
            'step[5] "brush".stage: the repair stage and the leak branch are the same steps; '
            'write stage = "repair" and when = "leak" together',
            'step[5] "brush".kind: a leaking scope is never immersed again; use a look without a bath',
        ],
    ),
    (
        in_step("immerse", "begins_cleaning = true\n", ""),
        ["step: 0 steps have begins_cleaning; mark exactly one"],
    ),
    (added("brush", "ends_cleaning = true"), ["step: 2 steps have ends_cleaning; mark exactly one"]),
    (
        added("rinse", "optional = true"),
        ['step[6] "rinse".optional: the step that has ends_cleaning can\'t be left out; take optional out'],
    ),
    (
        added("inspect", "ends_cleaning = true").replace("ends_cleaning = true\ntimes", "times"),
        ['step[7] "inspect".ends_cleaning: stage "inspect" is not cleaning; mark a step of stage clean or rinse'],
    ),
    (
        GOOD.replace("begins_cleaning = true\n", "")
        .replace("ends_cleaning = true\n", "")
        .replace('id = "immerse"\n', 'id = "immerse"\nends_cleaning = true\n')
        .replace('id = "extended"\n', 'id = "cloth"\n')
        .replace('when = "delayed"\n', "")
        .replace(step_text("brush"), step_text("brush").replace('"pass"', '"look"') + LOOK_BEGINS),
        ['step[3] "immerse".ends_cleaning: cleaning ends before it begins; mark a later step'],
    ),
    (
        GOOD.replace("begins_cleaning = true\n", "")
        .replace('id = "extended"\n', 'id = "cloth"\n')
        .replace('when = "delayed"\n', "")
        .replace('id = "brush"\n', 'id = "brush"\nbegins_cleaning = true\n'),
        [
            'step[5] "brush".begins_cleaning: cleaning can\'t begin with a step of kind "pass"; '
            "mark the look with which the scope is immersed"
        ],
    ),
    (
        added("extended", "optional = true"),
        ['step[4] "extended".optional: a delayed scope could go without its extended soak; take it out'],
    ),
    (
        moved("extended", "immerse"),
        ['step[3] "extended".when: the delay is known only when cleaning begins; move it after "immerse"'],
    ),
    (without("hld"), [f'disinfect_by: no step disinfects by "soak"; {DISINFECT}']),
    (
        at_top('disinfect_by = "soak"', 'disinfect_by = "machine"').replace(step_text("machine"), ""),
        [f'disinfect_by: no step disinfects by "machine"; {DISINFECT}'],
    ),
    (
        added("hld", "optional = true"),
        ['step[10] "hld".optional: disinfection can\'t be left out; take optional out'],
    ),
    (
        in_step("hld", 'when = "soak"\n', ""),
        [
            'step[10] "hld".when: a soak in disinfectant is one of two ways to disinfect; write when = "soak"',
            f'disinfect_by: no step disinfects by "soak"; {DISINFECT}',
        ],
    ),
    (
        in_step("hld", '"under", ', ""),
        ['step[10] "hld".needs: contact can start without "under"; add "under"'],
    ),
    (
        in_step("hld", '"filled", ', ""),
        ['step[10] "hld".needs: contact can start without "filled"; add "filled"'],
    ),
    (
        in_step("hld", ', "parts"', ""),
        ['step[10] "hld".needs: contact can start without "parts"; add "parts"'],
    ),
    (without("final"), [f'step[10] "hld": {NO_RINSE}']),
    (in_step("final", '"fresh"', '"parts"'), [f'step[10] "hld": {NO_RINSE}']),
    (added("final", "optional = true"), [f'step[10] "hld": {NO_RINSE}']),
    (
        at_top('channels = ["suction channel"]', "channels = []"),
        ['step[10] "hld".needs: the scope has no channel to fill; take "filled" out'],
    ),
    (without("air"), ['step: no drying by air; add a soak with bath = "air"']),
    (
        added("air", "optional = true"),
        ['step[13] "air".optional: drying can\'t be left out; take optional out'],
    ),
    (
        without("store"),
        ['step: the cycle does not end with storage; let the last step be a look of stage "store"'],
    ),
    (
        added("store", 'when = "soak"'),
        ['step[14] "store".when: storage is there in every cycle; write when = "always"'],
    ),
]


@pytest.mark.parametrize(("text", "expected"), TOP_FAULTS + ORDER_FAULTS)
def test_a_protocol_that_breaks_one_rule(text: str, expected: list[str]) -> None:
    with pytest.raises(ProtocolFault) as caught:
        read_protocol(text, "f.toml")
    assert [str(f) for f in caught.value.findings] == [f"f.toml: {line}" for line in expected]
