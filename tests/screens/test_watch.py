"""The Watch as a shift lead uses it: by touch at coordinates, on the real door, with the record looked at."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import goldens
import pytest
from harness import Screen
from lead_scene import LEAD, SIZES, Scene, Shown, at_stage, busy, in_soak

from data.opening import open_door
from protocols.errors import RecordDamaged
from protocols.prompts import due
from screens import theme
from screens.desk import Desk
from screens.watch import rows
from screens.watch.load import BIN_S, Load, load_of
from screens.watch.sightings import Sightings, look_back

Opener = Callable[..., Screen]
DAY_S = 86_400


def _texts(screen: Screen, scene: Scene) -> list[str]:
    return Shown(screen, scene, "watch").all_texts()


def test_past_the_limit_comes_first_with_how_long_whose_and_which_bath(open_screen: Opener) -> None:
    scene = busy()
    shown = Shown(open_screen(412, 892), scene, "watch")
    texts = shown.screen.texts()
    assert texts[:2] == ["Watch", "this handheld, 09:59"]
    assert texts[2] == "past the limit"
    # U9: its procedure ended 40 min before it came in at 8:48; the protocol's limit to cleaning is 1 h.
    assert texts.index("U9") < texts.index("B5")
    assert "OVER 51:00" in texts
    assert "Out of disinfectant, rinse now" in texts
    assert "limit was 09:43, bath H1, last tap Joss 09:38" in texts
    assert "Watch 2" in texts


def test_the_figures_are_those_of_now(open_screen: Opener) -> None:
    scene = busy()
    shown = Shown(open_screen(412, 892), scene, "watch")
    scene.wait(61)
    shown.shell.tick()
    shown.settle()
    assert "OVER 52:01" in shown.screen.texts()


def test_who_waits_for_a_lead_is_told_with_the_reason(open_screen: Opener) -> None:
    scene = busy()
    scene.walk("B5", lambda lane: lane.cycle.hold is not None and lane.over_s == 0 and lane.step.stage != "final rinse")
    shown = Shown(open_screen(412, 892), scene, "watch")
    texts = shown.screen.texts()
    assert "waiting for a lead" in texts
    assert any(text.startswith("Lead: lifted from H1") for text in texts)
    assert "Watch 2" in texts


def test_a_calm_bench_says_so_and_the_tab_shows_no_number(open_screen: Opener) -> None:
    texts = _texts(open_screen(412, 892), Scene())
    assert "Nothing is past a limit, and nobody waits for a lead." in texts
    assert "past the limit" not in texts
    assert "Watch" in texts
    assert "One pair of hands is enough." in texts


# --- baths


def test_a_strip_is_never_a_pass_for_the_next_scope(open_screen: Opener) -> None:
    scene = Scene()
    screen = open_screen(412, 892)
    assert "test before the next scope" in _texts(screen, scene)
    scene.receive("B2", 5)
    scene.walk("B2", at_stage("disinfect"))
    scene.give("strip-test", "H1", scope="B2", result="pass", strip_lot="STRIP-07")
    unused = _texts(screen, scene)
    assert "strip passed for B2 only; test before any other scope" in unused
    scene.wait(1)
    values = {"bath": "H1", "temp_c": 21.5, "under": True, "filled": True, "parts": True}
    scene.give("start", "B2", **values)
    used = _texts(screen, scene)
    assert "test before the next scope" in used
    assert any("in it: B2" in text for text in used)
    assert not any("strip passed" in text for text in used)


def test_a_bath_near_its_end_and_one_past_it(open_screen: Opener) -> None:
    """OPA 0.55 %: reuse life 14 days (CDC 2008 guideline, Table 4); day 0 is the day of pouring, our own convention."""
    scene = Scene()
    screen = open_screen(412, 892)
    scene.wait(4 * DAY_S)
    (row,) = rows.baths(scene.door.unit, scene.door.now(), Sightings())
    assert (row.state, row.share) == ("calm", pytest.approx(4 / 14))
    assert "day 4 of 14, last day 9 Dec by the reuse life" in _texts(screen, scene)
    scene.wait(9 * DAY_S)
    assert rows.baths(scene.door.unit, scene.door.now(), Sightings())[0].state == "near"
    scene.wait(2 * DAY_S)
    (row,) = rows.baths(scene.door.unit, scene.door.now(), Sightings())
    assert row.state == "blocked"
    texts = _texts(screen, scene)
    assert "BLOCKED: bath H1: the reuse life ended on 9 Dec 2026" in texts
    assert "discard it and pour a new one" in texts


def test_the_bath_with_the_fewest_days_left_comes_first() -> None:
    """Half of 14 days are fewer than 12 of 28 (OPA 0.55 %: CDC 2008 guideline, Table 4; 0.575 %: its maker's sheet)."""
    scene = Scene()
    told = {"lot": "LOT-9", "expires": "2028-01-01", "opened": "2026-11-25"}
    scene.give("pour-bath", "H9", kind="disinfectant", claim="opa-0575-20c", **told)
    scene.give("close-bath", "H1", LEAD, reason="end of the day")
    scene.wait(9 * DAY_S)
    scene.pour("disinfectant", "H3")
    scene.wait(7 * DAY_S)
    found = rows.baths(scene.door.unit, scene.door.now(), Sightings())
    assert [(row.label, row.share) for row in found] == [("H3", 7 / 14), ("H9", 16 / 28)]


def test_a_failed_strip_blocks_the_bath_and_it_comes_first(open_screen: Opener) -> None:
    scene = Scene()
    scene.pour("disinfectant", "H2")
    scene.receive("B2", 5)
    scene.walk("B2", at_stage("disinfect"))
    scene.give("strip-test", "H2", scope="B2", result="fail", strip_lot="STRIP-07")
    found = rows.baths(scene.door.unit, scene.door.now(), Sightings())
    assert [(row.label, row.state) for row in found][:2] == [("H2", "blocked"), ("H1", "calm")]
    assert "BLOCKED: bath H2 failed its strip test" in _texts(open_screen(412, 892), scene)


def test_detergent_is_for_one_scope_and_spent_after_it(open_screen: Opener) -> None:
    scene = Scene()
    scene.receive("G7", 5)
    scene.walk("G7", in_soak("detergent"))
    assert "for G7 only, 31 °C" in _texts(open_screen(412, 892), scene)
    scene.walk("G7")
    texts = _texts(open_screen(412, 892), scene)
    assert "WG7: detergent that has served its scope, discard it" in texts
    assert not any("for G7 only" in text for text in texts)


# --- notes


def test_a_note_by_touch_is_in_the_record_and_silences_nothing(open_screen: Opener) -> None:
    scene = busy()
    shown = Shown(open_screen(412, 892), scene, "watch")
    before = {prompt.key for prompt in due(scene.door.unit, scene.door.now())}
    count = len(scene.kinds())
    shown.tap("Note")
    shown.type("LATE")
    line = scene.last_line()
    assert (line["kind"], line["subject"], line["by"]) == ("note", "U9", LEAD)
    assert (line["data"]["what"], line["data"]["text"]) == ("late", "LATE")
    assert len(scene.kinds()) == count + 1
    assert {prompt.key for prompt in due(scene.door.unit, scene.door.now())} == before
    texts = shown.screen.texts()
    assert any(text.startswith("note of Mira") and text.endswith("LATE") for text in texts)
    assert "Watch 2" in texts
    assert any(text.startswith("OVER 51") for text in texts)


def test_a_row_leads_to_its_scope_and_a_hung_one_to_its_cycles(open_screen: Opener) -> None:
    scene = busy()
    shown = Shown(open_screen(412, 892), scene, "watch")
    shown.tap("OVER 51:00")
    assert shown.page.what == {"tag": "U9"}
    shown.go("watch")
    shown.tap("More below")
    shown.tap("B2")
    assert shown.page.key == "scope" and shown.page.tag == "B2"
    shown.tap("Its cycles")
    assert shown.page.key == "ledger"
    assert shown.page.query.tag == "B2"


def test_whose_tap_it_was_is_known_after_a_restart(open_screen: Opener) -> None:
    scene = busy()
    door = open_door(scene.disk, scene.clock, scene.door.shelf)
    scene.door, scene.desk = door, Desk(door, LEAD)
    assert "limit was 09:43, bath H1, last tap Joss 09:38" in _texts(open_screen(412, 892), scene)


def test_sightings_go_on_from_where_they_were() -> None:
    scene = busy()
    first = look_back(scene.door.journal, scene.door.unit, Sightings())
    assert look_back(scene.door.journal, scene.door.unit, first) is first
    scene.give("note", "G7", LEAD, what="other", text="keep an eye on it")
    after = look_back(scene.door.journal, scene.door.unit, first)
    cycle = scene.door.unit.cycles["G7"].id
    assert after.notes[cycle].text == "keep an eye on it"
    assert after.taps == first.taps
    assert after == look_back(scene.door.journal, scene.door.unit, Sightings())


def test_a_journal_that_cannot_be_read_back_hides_nothing_that_goes_on_now(
    open_screen: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    scene = busy()

    def lines(from_seq: int = 1) -> None:
        raise RecordDamaged("journal/2026-W48.jsonl, line at byte 12: it does not fit")

    monkeypatch.setattr(scene.door.journal, "lines", lines)
    texts = _texts(open_screen(412, 892), scene)
    assert any(text.startswith("Whose taps they were can't be read") for text in texts)
    assert "OVER 51:00" in texts


# --- hang time


def test_hang_time_counts_from_drying_and_ends(open_screen: Opener) -> None:
    """7 days: the protocol's figure (one facility's policy article, read at second hand)."""
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2")
    screen = open_screen(412, 892)
    texts = _texts(screen, scene)
    assert "6 d 23 h left, cabinet 2" in texts
    assert "DISINFECTED, NOT RELEASED" in texts
    scene.give("release", "B2", LEAD)
    texts = _texts(screen, scene)
    assert "released by Mira" in texts
    assert "RELEASED" in texts
    scene.wait(7 * DAY_S)
    texts = _texts(screen, scene)
    assert any(text.startswith("HANG TIME OVER by") for text in texts)
    assert "reprocess it before use" in texts


# --- load


def test_a_soak_needs_hands_when_it_is_ready() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", in_soak("disinfectant"))
    lane = scene.lane("B2")
    assert lane is not None
    load = load_of([lane], scene.door.unit.baths.values())
    ready_bin = int(lane.left_s // BIN_S)
    # OPA 0.55 %: 12 min of contact (CDC 2008 guideline, Table 4), so nothing before the third bin of 5 min.
    assert ready_bin == 2
    assert load.bars[:2] == (0, 0)
    assert load.bars[2] > 0


def test_what_comes_after_a_soak_counts_the_same_while_it_runs_and_once_it_is_out() -> None:
    scene = Scene()
    scene.receive("B2", 5)
    scene.walk("B2", in_soak("disinfectant"))

    def hands_s() -> float:
        return sum(load_of([scene.lane("B2")], scene.door.unit.baths.values()).bars) * BIN_S

    scene.wait(721)
    in_the_bath = hands_s()
    scene.give("lift", "B2", temp_c=21)
    # 30 s of hands to lift it out: our own figure.
    assert in_the_bath - hands_s() == pytest.approx(30)


def test_scopes_add_up_and_one_that_waits_for_a_lead_does_not() -> None:
    scene = busy()
    shown = [scene.lane(tag) for tag in ("G7", "D6", "U9")]
    alone = [load_of([lane], scene.door.unit.baths.values()).bars for lane in shown]
    together = load_of(shown, scene.door.unit.baths.values())
    assert together.bars == pytest.approx([sum(parts) for parts in zip(*alone, strict=True)])
    assert load_of([scene.lane("B5")], ()) == Load((0.0,) * 24, ("B5",))


def test_crowded_stretches_join() -> None:
    bars = (0.5, 1.2, 2.0, 1.0, 1.1)
    assert Load(bars).crowded() == [(BIN_S, 3 * BIN_S), (4 * BIN_S, 5 * BIN_S)]
    assert Load((0.0, 1.0)).crowded() == []


def test_the_estimate_says_that_it_is_one(open_screen: Opener) -> None:
    texts = _texts(open_screen(412, 892), busy())
    assert any("rough estimate" in text and "B5 not counted" in text for text in texts)


# --- looks


@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_clipped_on_any_leaf(open_screen: Opener, size: tuple[float, ...]) -> None:
    shown = Shown(open_screen(*size), busy(), "watch")
    assert len(shown.leaves()) >= 1


@pytest.mark.parametrize("look", list(theme.THEMES))
def test_it_looks_as_agreed(open_screen: Opener, tmp_path: Path, look: str) -> None:
    screen = open_screen(412, 892, look=look)
    shown = Shown(screen, busy(), "watch")
    goldens.check(f"watch-late-{look}", screen.picture(), tmp_path)
    shown.tap("More below")
    goldens.check(f"watch-load-{look}", screen.picture(), tmp_path)
