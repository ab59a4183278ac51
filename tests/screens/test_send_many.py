"""The Send page of a record of many weeks: what needs somebody is shown, and how many more weeks there are."""

from __future__ import annotations

from pathlib import Path

import pytest
from lead_scene import Shown
from send_scene import STICK, Faulty, Opener, beat, sending_shown

from data.receipts import Receipt, Receipts
from data.send_place import Place
from screens.widgets.card import Card

WEEKS = [f"{year}-W{week:02d}" for year in (2024, 2025) for week in range(1, 31)]


def many(open_screen: Opener, tmp_path: Path) -> tuple[Shown, Faulty]:
    """Sixty weeks before this one, all of them sent."""
    shown, place = sending_shown(open_screen, tmp_path)
    shown.sending.go_to(Place(STICK))
    beat(shown)
    disk, label = shown.scene.disk, shown.sending.way.label()
    for week in WEEKS:
        disk.replace(f"journal/{week}.jsonl", b"not read")
        Receipts(disk).keep(week, Receipt(label, 1, "0" * 64, True, "0" * 64, "2025-12-01T08:00:00.000+01:00"))
    return shown, place


def cards(shown: Shown) -> list[str]:
    """The weeks with a card, whichever leaf they are on."""
    named = {card: week for week, card in shown.page._cards.items()}
    return [named[block] for block in shown.page._leaves._blocks if isinstance(block, Card) and block in named]


def look(shown: Shown) -> None:
    shown.shell.go("watch")
    shown.sending.kept += 1
    shown.shell.go("send")
    shown.screen.frames(2)


def test_of_many_weeks_the_newest_are_shown_and_the_others_counted(open_screen: Opener, tmp_path: Path) -> None:
    shown, _ = many(open_screen, tmp_path)
    look(shown)
    assert cards(shown) == ["2026-W48", *WEEKS[::-1][:25]]
    assert "35 more weeks, not shown" in shown.all_texts()


def test_a_week_that_was_not_taken_and_one_on_its_way_are_shown_whatever_their_age(
    open_screen: Opener, tmp_path: Path
) -> None:
    shown, _ = many(open_screen, tmp_path)
    for week in WEEKS:
        shown.scene.disk.remove(f"receipts/{week}.json")
    shown.sending.state.failed[WEEKS[40]] = "another record is there"
    look(shown)
    assert cards(shown) == [WEEKS[40], *WEEKS[:25]]
    assert "not sent: another record is there" in " ".join(shown.all_texts())
    shown.sending.state.week = WEEKS[50]
    shown.page.refresh()
    assert cards(shown) == [WEEKS[40], WEEKS[50], *WEEKS[:24]]


def test_a_card_is_made_once(open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown, _ = many(open_screen, tmp_path)
    look(shown)
    made: list[object] = []
    monkeypatch.setattr("screens.send.send.Card", lambda **_: made.append(1))
    shown.page.refresh()
    assert made == []


@pytest.mark.parametrize("of", [24, 25])
def test_nothing_is_counted_where_all_are_shown(
    open_screen: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, of: int
) -> None:
    monkeypatch.setattr(f"{__name__}.WEEKS", WEEKS[:of])
    shown, _ = many(open_screen, tmp_path)
    look(shown)
    assert len(cards(shown)) == of + 1 and not any("not shown" in text for text in shown.all_texts())
