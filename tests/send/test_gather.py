"""Exports of several handhelds brought together in a folder: whole, checked, in any order, any number of times."""

from __future__ import annotations

import csv
import io
import os
import random
from pathlib import Path

import pytest

from data.exporters.csv_text import rows_in
from data.exporters.manifest import ExportRefused
from data.unit_gather import Gathered, gather, unit_at
from data.unit_gather.conflicts import Conflicts
from data.unit_gather.folder import CONFLICTS, FolderUnit
from data.unit_gather.found import exports_below, read_keys
from data.unit_gather.tables import split_header, unguarded, with_columns
from protocols.errors import CommandFault, DiskError
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, digest, put, there, three_weeks
from tests.send.unit_cases import exports, laid_out, one_bath_after_another, signed_otherwise


def gathered(sources: list[Path], into: Path, keys: dict[str, str] | None = None) -> Gathered:
    return gather(sources, FolderUnit(into), keys, lambda line: None)


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.fixture(autouse=True)
def no_fsync(monkeypatch) -> None:
    """Many gatherings one after another: that bytes reach the plate is not what is asked here."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture(scope="module")
def once(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("once")
    gathered(laid_out(folder / "in"), folder / "unit")
    return folder / "unit"


@pytest.mark.parametrize("seed", range(6))
def test_any_order_and_any_number_of_times_gives_the_same_bytes(once, tmp_path, seed) -> None:
    chance = random.Random(seed)
    names = list(exports()) * 2
    chance.shuffle(names)
    unit = tmp_path / "unit"
    while names:
        some = [names.pop() for _ in range(min(len(names), chance.randint(1, 4)))]
        gathered(laid_out(tmp_path / "in", some), unit)
    assert digest(unit) == digest(once)


def test_one_look_through_a_tree_of_folders_finds_all(once, tmp_path) -> None:
    laid_out(tmp_path / "in" / "deep" / "er")
    put({"notes.txt": b"x", ".hidden/manifest.json": b"{}"}, tmp_path / "in")
    result = gathered([tmp_path / "in"], tmp_path / "unit")
    assert sum(result.counts.values()) == 8 and result.counts["known"] == result.counts["refused"] == 0
    assert digest(tmp_path / "unit") == digest(once)
    assert gathered([once], tmp_path / "unit").counts["taken"] == 0  # a unit's own folder may be gathered from


def test_every_row_of_every_shown_export_is_there_once(once) -> None:
    shown = {
        WEEK: ["far", f"hh1-{WEEK}", "hh2", "impostor"],
        NEXT_WEEK: [f"hh1-{NEXT_WEEK}"],
        THIRD_WEEK: [f"hh1-{THIRD_WEEK}"],
    }
    for week, names in shown.items():
        for table in ("cycles", "events", "baths", "tests"):
            merged = rows((once / "weeks" / week / f"{table}.csv").read_bytes())
            expected = [row for name in names for row in rows(exports()[name][f"{table}.csv"])]
            key = lambda row: sorted(row.items())  # noqa: E731
            stripped = [{k: v for k, v in row.items() if k != "handheld"} for row in merged]
            assert sorted(stripped, key=key) == sorted(expected, key=key)
            assert {row["handheld"].split("-")[0] for row in merged} <= {
                name.split("-")[0].replace("impostor", "hh2") for name in names
            }


def test_conflicts_are_listed_and_nothing_is_resolved(once) -> None:
    found = rows((once / CONFLICTS).read_bytes())
    seen = {(row["kind"], row["what"], row["first_source"][:3], row["second_source"][:3]) for row in found}
    assert {
        ("one scope in two places", "B2", "hh1", "hh2"), ("one bath counted twice", "H4", "hh1", "hh2"),
        ("one week told twice", WEEK, "hh1", "hh1"), ("two keys under one name", "hh2", "hh2", "hh2"),
    } <= seen  # fmt: skip
    assert not [row for row in seen if "far" in row]
    cycles = rows((once / "weeks" / WEEK / "cycles.csv").read_bytes())
    assert len([row for row in cycles if row["scope_tag"] == "B2"]) == 3


def test_a_bath_discarded_in_a_later_week_does_not_stand_on_for_its_reuse_life(tmp_path) -> None:
    sources = [put(files, tmp_path / name) for name, files in one_bath_after_another().items()]
    result = gathered(sources, tmp_path / "unit")
    assert result.counts["taken"] == 3 and result.conflicts == []


def test_an_earlier_state_of_the_same_record_is_no_conflict(tmp_path) -> None:
    for names in ([f"hh1-{WEEK}", "hh1-early"], ["hh1-early", f"hh1-{WEEK}"]):
        result = gathered(laid_out(tmp_path / "in", names), tmp_path / "unit")
        assert result.conflicts == []
    assert sum(result.counts.values()) == result.counts["known"] == 2


@pytest.mark.parametrize(
    "name", ["cycles.csv", "events.csv", f"chain/{WEEK}.jsonl", "manifest.json", "manifest.sig", "week.pdf"]
)
def test_a_changed_export_is_refused_by_name_and_nothing_of_it_goes_in(tmp_path, name) -> None:
    (folder,) = laid_out(tmp_path / "in", ["hh2"])
    whole = (folder / name).read_bytes()
    for spoilt in (whole[:-1], whole[:20] + b"\x00" + whole[21:], b""):
        (folder / name).write_bytes(spoilt)
        result = gathered([tmp_path / "in"], tmp_path / "unit")
        assert result.counts["refused"] == 1 and len(result.refused) == 1 and str(folder) in result.refused[0]
    (folder / name).unlink()
    assert gathered([tmp_path / "in"], tmp_path / "unit").counts["refused"] == 1
    assert list(there(tmp_path / "unit")) == [CONFLICTS]


def test_rows_that_the_chain_does_not_count_are_refused_though_signed(tmp_path) -> None:
    cycles = exports()[f"hh1-{WEEK}"]["cycles.csv"]
    doubled = cycles + cycles.split(b"\r\n")[1] + b"\r\n"
    put(signed_otherwise(f"hh1-{WEEK}", {"cycles.csv": doubled}), tmp_path / "in" / "x")
    result = gathered([tmp_path / "in"], tmp_path / "unit")
    assert "cycles.csv has 5 rows" in result.refused[0]


def test_only_known_keys_are_taken_where_keys_are_given(tmp_path) -> None:
    keys = {"hh1": three_weeks().signer.public}
    result = gathered(laid_out(tmp_path / "in"), tmp_path / "unit", keys)
    assert result.counts["refused"] == 3 and result.keys == {}
    assert all("no key is known" in why for why in result.refused)
    assert {p.name.split("-")[0] for p in (tmp_path / "unit" / "exports").iterdir()} == {"hh1"}
    impostor = gathered(laid_out(tmp_path / "in", ["hh2"]), tmp_path / "other", {"hh2": "0" * 64})
    assert "the key known for it is 0000000000000000" in impostor.refused[0]


@pytest.mark.parametrize("cut", range(1, 40, 3))
def test_cut_off_while_writing_the_next_gathering_heals(once, tmp_path, monkeypatch, cut) -> None:
    sources = laid_out(tmp_path / "in")
    left, real = [cut], Path.rename

    def rename(self: Path, target: Path) -> Path:
        left[0] -= 1
        if left[0] == 0:
            raise OSError(5, "Input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(DiskError, match="gather again"):
        gathered(sources, tmp_path / "unit")
    monkeypatch.undo()
    gathered(sources, tmp_path / "unit")
    assert digest(tmp_path / "unit") == digest(once)


def test_a_folder_with_other_things_in_it_is_not_written_into(tmp_path) -> None:
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(CommandFault, match=r"thesis\.txt"):
        unit_at(str(tmp_path))
    with pytest.raises(CommandFault, match="can't be gathered into"):
        unit_at("mysql://host/base")


def test_sources_that_are_not_there_are_named(tmp_path) -> None:
    with pytest.raises(DiskError, match="is no folder"):
        list(exports_below(tmp_path / "absent"))


def test_exports_with_other_columns_are_not_mixed(tmp_path) -> None:
    cycles = exports()[f"hh1-{WEEK}"]["cycles.csv"].replace(b'"week"', b'"weeks"', 1)
    put(signed_otherwise(f"hh1-{WEEK}", {"cycles.csv": cycles}), tmp_path / "in" / "x")
    laid_out(tmp_path / "in", ["far"])
    with pytest.raises(ExportRefused, match="with other columns"):
        gathered([tmp_path / "in"], tmp_path / "unit")


@pytest.mark.parametrize("line", ["hh1", "hh1 12", "hh1 " + "g" * 64, "a b c"])
def test_a_keys_file_names_its_bad_line(tmp_path, line) -> None:
    path = tmp_path / "keys"
    path.write_text(f"# known since March\n\nhh2 {'0' * 64}\n{line}\n")
    with pytest.raises(CommandFault, match="line 4"):
        read_keys(path)
    path.write_text(f"# known since March\n\nhh2 {'0' * 64}\n")
    assert read_keys(path) == {"hh2": "0" * 64}


def test_columns_are_put_before_rows_whatever_the_cells_hold() -> None:
    """Against the csv module of the standard library."""
    cells = [["a", 'x"y', "line\r\nbreak"], ["'=1", "'''+1", ",\",'=2"], ["", "1", '"\r\n"']]
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerows([["one", "two", "three"], *cells])
    columns, body = split_header(out.getvalue().encode("utf-8-sig"))
    assert columns == ["one", "two", "three"] and rows_in(out.getvalue().encode("utf-8-sig")) == 3
    merged = with_columns(unguarded(body), ['h"1', "w"]).decode()
    assert list(csv.reader(io.StringIO(merged, newline=""))) == [
        ['h"1', "w", "a", 'x"y', "line\r\nbreak"], ['h"1', "w", "=1", "''+1", ",\",'=2"],
        ['h"1', "w", "", "1", '"\r\n"'],
    ]  # fmt: skip


@pytest.mark.parametrize(
    "table", [b"", b"a", b'"a","a"\r\n', b'"drop table"\r\n', b'"A"\r\n', b"\xff\r\n", b'"a"";--"\r\n']
)
def test_headers_that_are_none_are_refused(table) -> None:
    with pytest.raises(ExportRefused):
        split_header(table)


HEAD = '"cycle","scope_tag","scope_serial","received_at","ended_at","outcome"\r\n'
BATHS = '"bath_id","bath","kind","lot","poured_at","closed_at","reuse_life_d"\r\n'


@pytest.mark.parametrize(
    ("first", "second", "units", "conflict"),
    [
        ("c,B2,S1,08:00,09:00", "d,B2,S1,08:59,10:00", ("u", "u"), True),
        ("c,B2,S1,08:00,09:00", "d,B2,S1,09:00,10:00", ("u", "u"), False),  # one after the other
        ("c,B2,S1,08:00,09:00", "d,B2,S2,08:10,08:20", ("u", "u"), False),  # two scopes with one tag
        ("c,B2,,08:00,09:00", "d,B2,S2,08:10,08:20", ("u", "u"), True),  # one of them does not know the serial
        ("c,B2,,08:00,09:00", "d,B2,,08:10,08:20", ("u", "v"), False),  # tags are the unit's own
        ("c,B2,S1,08:00,09:00", "d,L1,S1,08:10,08:20", ("u", "v"), True),  # on loan: the serial tells
        ("c,B2,S1,08:00,09:00", "d,B2,S1,08:00,09:00", ("u", "u"), True),
        ("c,B2,S1,08:00,08:30,handed over", "c,B2,S1,08:00,09:00", ("u", "u"), False),  # the other handheld tells it
    ],
)
def test_one_scope_in_two_places(tmp_path, first, second, units, conflict) -> None:
    for order in ((0, 1), (1, 0)):
        found = Conflicts(tmp_path / f"{order[0]}.sqlite")
        for which in order:
            cycle, tag, serial, start, end, *outcome = (first, second)[which].split(",")
            times = f"2026-11-25T{start}:00.000+01:00,2026-11-25T{end}:00.000+01:00"
            rest = outcome[0] if outcome else "completed"
            found.add_cycles(
                ("h1", "h2")[which], units[which], f"{HEAD}{cycle},{tag},{serial},{times},{rest}\r\n".encode()
            )
        assert len(list(found.found())) == int(conflict)
        found.close()


@pytest.mark.parametrize(
    ("first", "second", "conflict"),
    [
        ("x,H4,disinfectant,L7,01,,14", "y,H4,disinfectant,L7,10,,14", True),
        ("x,H4,disinfectant,L7,01,,14", "y,H4,disinfectant,L7,16,,14", False),  # its reuse life was over
        ("x,H4,disinfectant,L7,01,05,14", "y,H4,disinfectant,L7,06,,14", False),  # closed before
        ("x,H4,disinfectant,L7,01,,14", "y,H4,disinfectant,L8,03,,14", False),
        ("x,H4,disinfectant,L7,01,,14", "y,H5,disinfectant,L7,03,,14", False),
        ("x,W1,detergent,L7,01,,", "y,W1,detergent,L7,03,,", False),  # detergent stands a day
    ],
)
def test_one_bath_counted_twice(tmp_path, first, second, conflict) -> None:
    found = Conflicts(tmp_path / "x.sqlite")
    for source, text in (("h1", first), ("h2", second)):
        uid, label, kind, lot, poured, closed, life = text.split(",")
        at, until = (f"2026-11-{day}T08:00:00.000+01:00" if day else "" for day in (poured, closed))
        found.add_baths(source, "u", f"{BATHS}{uid},{label},{kind},{lot},{at},{until},{life}\r\n".encode())
    assert len(list(found.found())) == int(conflict)
    found.close()
