"""A week read at a glance shows what reading it whole shows, whatever stands in its texts."""

from __future__ import annotations

from typing import Any

import pytest

from data.ledger import Ledger, catch_up
from data.ledger_entry import found_in
from data.ledger_glance import Glance
from data.memory_disk import MemoryDisk
from data.rehearse.run import Plan, rehearse

WEEK = "2026-W48"
# Members by which stretches are left out, in a text and as a value.
MARKS = ('],"flushes":[', ',"events":[{"by":"x"}],"flushes":[],"lates":[]', '","outcome":{"at":"', "\\", '"}]}}')
NESTED: tuple[Any, ...] = (
    {"a": 1, "flushes": [1], "lates": [2]}, {"a": [], "events": [{"by": "x"}], "flushes": []}, {"a": 0, "brushing": {}},
    {"a": 0, "case": 1, "cycle": 2, "outcome": {"at": 3}, "scope": 4, "v": 1, "week": 5, "z": 0},
)  # fmt: skip


@pytest.fixture(scope="module")
def documents() -> list[dict[str, Any]]:
    disk = MemoryDisk()
    door, _ = rehearse(disk, Plan(6, 10, 1), lambda line: None)
    catch_up(Ledger(disk), door.journal)
    return Ledger(disk).week(WEEK)


class Counted(Ledger):
    """A ledger that counts the weeks that are read whole."""

    whole = 0

    def week(self, week: str) -> list[dict[str, Any]]:
        self.whole += 1
        return super().week(week)


def seen(documents: list[dict[str, Any]]) -> tuple[list[Any], int]:
    """What the list shows of a week with these documents, and how often the week had to be read whole for it."""
    ledger = Counted(MemoryDisk())
    ledger.put(WEEK, documents, 1)
    return [found_in(WEEK, document) for document in ledger.at_a_glance(WEEK)], ledger.whole


def shown(documents: list[dict[str, Any]]) -> list[Any]:
    ledger = Ledger(MemoryDisk())
    ledger.put(WEEK, documents, 1)
    return [found_in(WEEK, document) for document in ledger.week(WEEK)]


def test_a_rehearsed_week_is_never_read_whole(documents: list[dict[str, Any]]) -> None:
    assert len(documents) > 10
    assert seen(documents) == (shown(documents), 0)


def test_an_empty_week_and_one_that_is_not_there(documents: list[dict[str, Any]]) -> None:
    assert seen([])[0] == []
    assert Ledger(MemoryDisk()).at_a_glance(WEEK) == []


@pytest.mark.parametrize("text", MARKS)
def test_texts_that_look_like_members_are_texts(documents: list[dict[str, Any]], text: str) -> None:
    odd = [
        {**d, "notes": [{"text": text}], "case": {**d["case"], "reference": f"{n}{text}"},
         "events": [{**d["events"][0], "by": text}, *d["events"][1:]],
         "people": {**d["people"], "names": dict.fromkeys({text, *(e["by"] for e in d["events"][1:])}, "N")}}
        for n, d in enumerate(documents)
    ]  # fmt: skip
    assert seen(odd) == (shown(odd), 0)


@pytest.mark.parametrize("nested", NESTED)
@pytest.mark.parametrize("place", ["baths", "brushing", "events", "lates", "leak_tests", "skips", "wipes"])
def test_members_of_the_same_name_deeper_down_never_change_what_is_shown(
    documents: list[dict[str, Any]], nested: Any, place: str
) -> None:
    odd = [dict(d) for d in documents]
    last: Any = {"by": "ann", **nested} if place == "events" else nested
    odd[1][place] = [*odd[1][place], last]
    if place == "events":
        odd[1]["people"] = {**odd[1]["people"], "names": dict.fromkeys({e["by"] for e in odd[1]["events"]}, "N")}
    assert seen(odd)[0] == shown(odd)


def test_documents_of_another_form_are_read_whole(documents: list[dict[str, Any]]) -> None:
    more = [{**documents[0], "zeal": []}, *documents[1:]]
    assert seen(more) == (shown(more), 1)
    fewer = [{name: value for name, value in documents[0].items() if name != "wipes"}, *documents[1:]]
    assert seen(fewer) == (shown(fewer), 1)


def test_of_a_cycle_from_another_handheld_only_who_worked_here_is_named(documents: list[dict[str, Any]]) -> None:
    came = {**documents[3], "came_from": {"device": "other", "by": "joss"}}
    came["people"] = {**came["people"], "names": {**came["people"]["names"], "elsewhere": "Only There"}}
    odd = [*documents[:3], came, *documents[4:]]
    found, whole = seen(odd)
    assert (found, whole) == (shown(odd), 0)
    assert not any("elsewhere" in one.people for one in found)


def test_what_is_left_is_a_tenth(documents: list[dict[str, Any]]) -> None:
    disk = MemoryDisk()
    Ledger(disk).put(WEEK, documents, 1)
    body = bytes(disk.files[f"ledger/{WEEK}.json"])
    assert len(Glance().cut(body)) * 8 < len(body)
