"""Lists taken in from CSV: every fault by row and column, all rows or none, and nothing from a dry run."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import pytest

import main
from data.door import Door
from data.dry_disk import DryDisk
from data.home import Texts
from data.import_lists import KINDS, give, planned
from data.import_table import BYTES_MAX, ROWS_MAX, ImportFault, read_table
from data.journal import Journal
from data.memory_disk import MemoryDisk
from data.opening import open_door, shipped_shelf
from data.real_disk import RealDisk
from data.rehearse.scene import LEAD, scene_clock
from protocols.errors import DiskError
from protocols.event import Command, Event
from tests.hostile import bent
from tests.send.cases import there

ROOT = Path(__file__).parent.parent.parent


def unit_door() -> Door:
    """A unit with an administrator and one protocol taken into use."""
    door = open_door(MemoryDisk(), scene_clock(), shipped_shelf(), device="import")
    for do, subject, values in (
        ("add-person", LEAD, {"name": "Mira", "role": "administrator"}),
        ("adopt-protocol", "gastroscope", {}),
        ("add-scope", "G1", {"protocol": "gastroscope"}),
    ):
        assert isinstance(door.give(Command(do, subject, values, LEAD)), Event)
        door.clock.advance(1)  # type: ignore[attr-defined]
    return door


def faults_of(kind: str, content: bytes | str, by: str = LEAD) -> list[tuple[int, str]]:
    text = content.encode() if isinstance(content, str) else content
    return [(fault.row, fault.column) for fault in planned(unit_door(), kind, text, by)[1]]


def taken(kind: str, content: bytes) -> Door:
    door = unit_door()
    asked, faults = planned(door, kind, content, LEAD)
    assert faults == []
    assert all(isinstance(answer, Event) for _, answer in give(door, asked))
    return door


def test_every_row_becomes_an_ordinary_command_by_a_named_person() -> None:
    door = taken("scopes", b"tag,protocol,model,serial,loaner\r\nG4,gastroscope,demo,S-4,yes\r\nG5,gastroscope,,,\r\n")
    assert door.unit.scopes["G4"].serial == "S-4" and door.unit.scopes["G4"].loaner
    assert "G5" in door.unit.scopes
    lines = [line for line in door.journal.lines() if line["kind"] == "add-scope"]
    assert [(line["subject"], line["by"]) for line in lines][-2:] == [("G4", LEAD), ("G5", LEAD)]


def test_a_badge_is_a_command_of_its_own() -> None:
    door = taken("people", b"id,name,role,badge\neve,Eve,technician,B-17\nada,Ada,lead,\n")
    assert door.unit.people["eve"].badge == "B-17" and door.unit.people["ada"].role == "lead"


def test_a_chemistry_is_confirmed_by_the_label_in_hand() -> None:
    claim = next(c for c in shipped_shelf().claims.values() if c.use == "manual" and c.reuse_d_max is not None)
    figures = {
        "contact_s": claim.contact_s_min.value,
        "temp_c": claim.temp_c_min.value,
        "reuse_d": claim.reuse_d_max.value,
    }
    head = "claim,label,by_hand," + ",".join(figures)
    row = f"{claim.id},our bottle of 2026,yes," + ",".join(f"{value:g}" for value in figures.values())
    door = unit_door()
    asked, faults = planned(door, "chemistries", f"{head}\n{row}\n".encode(), LEAD)
    assert faults == [] and all(isinstance(answer, Event) for _, answer in give(door, asked))
    assert door.unit.claims[claim.id].label == "our bottle of 2026"


@pytest.mark.parametrize(
    "content",
    [
        "tag,protocol\nG4,gastroscope\n",
        "\ufefftag,protocol\r\nG4,gastroscope\r\n",
        "tag;protocol\r\nG4;gastroscope\r\n",
        "sep=;\r\ntag;protocol\r\nG4;gastroscope\r\n",
        "tag\tprotocol\nG4\tgastroscope",
        "sep=\t\r\ntag\tprotocol\r\nG4\tgastroscope\r\n",
        '"Tag","PROTOCOL "\n"G4","gastroscope"\n\n',
        "protocol,tag,,\ngastroscope, G4 ,,\n,,,\n",
    ],
)
def test_what_programs_write_is_understood(content: str) -> None:
    assert "G4" in taken("scopes", content.encode()).unit.scopes


@pytest.mark.parametrize(
    ("kind", "content", "faults"),
    [
        ("scopes", "tag,protocol\nG1,gastroscope\n", [(2, "tag")]),  # known already
        ("scopes", "tag,protocol\nG4,gastroscope\nG4,gastroscope\n", [(3, "tag")]),  # twice in the file
        ("scopes", "tag,protocol\nG4,nothing\nG5,\n", [(2, "protocol"), (3, "protocol")]),
        ("scopes", "tag,protocol,loaner\nG4,gastroscope,perhaps\n", [(2, "loaner")]),
        ("scopes", "tag,protocol\n=1+1,gastroscope\n", [(2, "tag")]),
        ("scopes", "tag,protocol,model\nG4,gastroscope,@x\nG5,gastroscope,-3\n", [(2, "model"), (3, "model")]),
        ("scopes", "tag,protocol,tag\nG4,gastroscope,G5\n", [(1, "tag")]),
        ("scopes", "tag,protocol,colour\nG4,gastroscope,red\n", [(1, "colour")]),
        ("scopes", "tag\nG4\n", [(1, "protocol")]),
        ("scopes", "tag,protocol\nG4,gastroscope,demo\n", [(2, "")]),
        ("scopes", "tag,protocol\n", [(0, "")]),
        ("scopes", "", [(1, "")]),
        ("scopes", 'tag,protocol\n"G4,gastroscope\n', [(2, "")]),
        ("scopes", f"tag,protocol\n{'G' * 81},gastroscope\n", [(2, "tag")]),
        ("people", "id,name,role\neve,Eve,boss\nada,,lead\n", [(2, "role"), (3, "name")]),
        ("people", f"id,name,role\n{LEAD},Mira,lead\nunconfirmed,X,lead\n", [(2, "id"), (3, "id")]),
        ("people", "id,name,role,badge\neve,Eve,lead,B1\nada,Ada,lead,b1\n", [(3, "badge")]),
        ("chemistries", "claim,label\nnothing,L\n", [(2, "claim")]),
        ("chemistries", 'claim,label,contact_s\nopa-055-20c,L,"12,5"\n', [(2, "contact_s")]),
        ("chemistries", "claim,label,contact_s\nopa-055-20c,L,5\n", [(2, "contact_s")]),
        ("chemistries", "claim,label,contact_s\nopa-055-20c,L,nan\n", [(2, "contact_s")]),
        ("chemistries", "claim,label,by_hand\nopa-055-20c,L,no\n", [(2, "by_hand")]),
    ],
)
def test_every_fault_is_named_by_row_and_column(kind: str, content: str, faults: list[tuple[int, str]]) -> None:
    assert faults_of(kind, content) == faults


CLAIM = "chemistries", "claim,label,by_hand,contact_s,temp_c,reuse_d,rinse_times\nopa-055-20c,L,yes,{},{},14,{}\n"


@pytest.mark.parametrize(
    ("contact", "temp", "rinses", "said"),
    [
        ("720", "20", "1_000", "row 2, column rinse_times: '1_000' is not a count; write it in figures alone"),
        ("720", "20", "1.000", "row 2, column rinse_times: '1.000' is not a count; write it in figures alone"),
        ("720", "20", "3.0", "row 2, column rinse_times: '3.0' is not a count; write it in figures alone"),
        ("720", "20", "1e1", "row 2, column rinse_times: '1e1' is not a count; write it in figures alone"),
        ("720", "20", "\u0663", "row 2, column rinse_times: '\u0663' is not a count; write it in figures alone"),
        ("1_000", "20", "3", "row 2, column contact_s: '1_000' is not a number; write it in figures"),
        ("1e3", "20", "3", "row 2, column contact_s: '1e3' is not a number; write it in figures"),
        ("1.000", "20", "3", "row 2, column contact_s: '1.000' may be 1000 or 1; write 1000 or 1"),
        ("720", "20.125", "3", "row 2, column temp_c: '20.125' may be 20125 or 20.125; write 20125 or 20.125"),
    ],
)
def test_a_number_that_can_be_read_two_ways_is_asked_for_again(contact: str, temp: str, rinses: str, said: str) -> None:
    kind, content = CLAIM
    _, faults = planned(unit_door(), kind, content.format(contact, temp, rinses).encode(), LEAD)
    assert any(str(fault).startswith(said) for fault in faults), [str(fault) for fault in faults]


def test_plain_figures_are_taken_and_every_odd_cell_of_a_row_is_named() -> None:
    kind, content = CLAIM
    asked, _ = planned(unit_door(), kind, content.format("720", "20.5", "3").encode(), LEAD)
    assert [one.command.values for one in asked] == [
        {"label": "L", "by_hand": True, "contact_s": 720, "temp_c": 20.5, "reuse_d": 14, "rinse_times": 3}
    ]
    assert faults_of(kind, content.format("7_2", "warm", "3.")) == [
        (2, "contact_s"), (2, "temp_c"), (2, "rinse_times"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("tag,protocol\nG4,gastroscope\nG\xfc,gastroscope\n".encode("latin-1"), "row 3: byte 0xfc is not UTF-8"),
        ("tag,protocol\n".encode("utf-16"), "it is UTF-16; save it as CSV in UTF-8"),
        (b"PK\x03\x04rest", "it is a spreadsheet, not CSV"),
        (b"tag,protocol\nG4,\0\n", "row 2: it holds a zero byte"),
        (b"x" * (BYTES_MAX + 1), "split it"),
        (b"tag,protocol\n" + b"G4,gastroscope\n" * (ROWS_MAX + 1), f"more than {ROWS_MAX} rows; split the file"),
    ],
)
def test_files_of_a_wrong_kind_are_named(content: bytes, words: str) -> None:
    _, faults = read_table(content, ("tag", "protocol"), ("tag",))
    assert any(words in str(fault) for fault in faults), [str(fault) for fault in faults]


def test_a_fault_says_what_to_do() -> None:
    fault = ImportFault(4, "role", "'boss' is no role", "write lead")
    assert str(fault) == "row 4, column role: 'boss' is no role; write lead"
    for kind, content in (("scopes", "tag,protocol\nG1,nothing\n=x,gastroscope\n"), ("people", "id,name\nx,y\n")):
        for found in planned(unit_door(), kind, content.encode(), LEAD)[1]:
            assert found.what and found.remedy


def test_a_guarded_formula_is_the_text_it_was() -> None:
    door = taken("scopes", b"tag,protocol,model\nG4,gastroscope,'=1+1\nG5,gastroscope,'quoted\n")
    assert (door.unit.scopes["G4"].model, door.unit.scopes["G5"].model) == ("=1+1", "'quoted")


def test_who_may_not_give_it_is_said_once() -> None:
    content = "id,name,role\neve,Eve,technician\nada,Ada,lead\n"
    assert faults_of("people", content, by="nobody") == [(0, "")]


def test_one_fault_keeps_every_row_out_and_the_record_as_it_was() -> None:
    door = unit_door()
    before = {path: bytes(content) for path, content in door.journal._disk.files.items()}  # type: ignore[attr-defined]
    unit = door.unit
    asked, faults = planned(door, "scopes", b"tag,protocol\nG4,gastroscope\nG1,gastroscope\n", LEAD)
    assert len(asked) == 2 and len(faults) == 1 and door.unit is unit
    assert {path: bytes(c) for path, c in door.journal._disk.files.items()} == before  # type: ignore[attr-defined]


def test_hostile_files_give_only_faults() -> None:
    good = 'tag,protocol,model\r\nG4,gastroscope,"a, b"\r\nG5,gastroscope,\r\n'
    door, chance = unit_door(), Random(5)
    for _ in range(300):
        asked, faults = planned(door, "scopes", bent(chance, good).encode("utf-8", "surrogatepass"), LEAD)
        assert asked or faults


def test_columns_are_those_of_the_commands_and_the_readme_shows_a_header_of_each() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    block = text.split("### Importing lists", 1)[1].split("\n### ", 1)[0]
    examples = re.findall(r"```csv\n(.*?)```", block, re.S)
    assert len(examples) == len(KINDS)
    for (kind, wanted), example in zip(KINDS.items(), examples, strict=True):
        header = example.splitlines()[0].split(",")
        assert set(header) <= set(wanted.columns) and set(wanted.needed) <= set(header), kind
    door = open_door(MemoryDisk(), scene_clock(), shipped_shelf(), device="import")
    kinds = ("people", "scopes", "chemistries")
    by_kind = dict(zip(KINDS, examples, strict=True))
    for kind in kinds:
        door.clock.advance(1)  # type: ignore[attr-defined]
        asked, faults = planned(door, kind, by_kind[kind].encode(), "mira")
        assert faults == [], [str(fault) for fault in faults]
        assert all(isinstance(answer, Event) for _, answer in give(door, asked))
        for name in ("bronchoscope-1", "gastroscope"):
            door.clock.advance(1)  # type: ignore[attr-defined]
            door.give(Command("adopt-protocol", name, {}, "mira"))


@pytest.fixture
def home(tmp_path) -> Path:
    folder = tmp_path / "home"
    disk = RealDisk(folder)
    for path, content in unit_door().journal._disk.files.items():  # type: ignore[attr-defined]
        disk.replace(path, bytes(content))
    return folder


def test_the_command_runs_dry_beside_the_app_then_takes_all_in(home, tmp_path, capsys) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text("tag,protocol\nG4,gastroscope\nG5,gastroscope\n")
    bad.write_text("tag,protocol\nG1,gastroscope\nG4,nothing\n")
    before = there(home)
    call = ["--home", str(home), "import", "scopes"]
    app = RealDisk(home)
    app.lock("lock", "the app")
    assert main.main([*call, str(good), "--by", LEAD, "--dry-run"]) == 0
    assert "scopes, 2 rows without faults; nothing was written (dry run)" in capsys.readouterr().out
    app.close()
    assert {k: v for k, v in there(home).items() if k != "lock"} == before
    assert main.main([*call, str(bad), "--by", LEAD]) == 1
    shown = capsys.readouterr().out
    assert "row 2, column tag" in shown and "row 3, column protocol" in shown and "nothing was written" in shown
    assert main.main([*call, str(good), "--by", LEAD]) == 0
    assert f"scopes, 2 rows taken in by {LEAD}" in capsys.readouterr().out
    journal = Journal(RealDisk(home))
    journal.open()
    kinds = [line["subject"] for line in journal.lines() if line["kind"] == "add-scope"]
    assert kinds == ["G1", "G4", "G5"]
    assert main.main([*call, str(good), "--by", LEAD]) == 1  # they are there now
    assert main.main([*call, str(tmp_path / "none.csv"), "--by", LEAD]) == 2
    assert main.main(["--home", str(tmp_path / "no"), "import", "scopes", str(good), "--by", LEAD]) == 2
    capsys.readouterr()


def test_a_person_with_a_pin_is_asked_for_it(home, tmp_path, capsys, monkeypatch) -> None:
    from data.pins import pin_values
    from screens.terminal import importing

    disk = RealDisk(home)
    clock = scene_clock()
    clock.advance(60)
    door = Door(Journal(disk), Texts(disk), clock, shipped_shelf())
    assert isinstance(door.give(Command("set-pin", LEAD, pin_values("4711"), LEAD)), Event)
    disk.close()
    good = tmp_path / "good.csv"
    good.write_text("tag,protocol\nG4,gastroscope\n")
    call = ["--home", str(home), "import", "scopes", str(good), "--by", LEAD]
    assert main.main(call) == 1  # nobody can be asked here
    assert "has a PIN" in capsys.readouterr().err
    monkeypatch.setattr(importing.sys.stdin, "isatty", lambda: True, raising=False)
    for typed, code in (("0815", 1), ("4711", 0)):
        monkeypatch.setattr("getpass.getpass", lambda prompt, typed=typed: typed)
        assert main.main(call) == code
    shown = capsys.readouterr()
    assert "that is not the PIN" in shown.err and "scopes, 1 row taken in" in shown.out
    assert "4711" not in shown.out + shown.err


def test_a_dry_disk_reads_through_and_forgets() -> None:
    below = MemoryDisk({"a/x": b"one", "a/y": b"two"})
    dry = DryDisk(below)
    dry.append("a/x", b"!")
    dry.replace("a/z", b"new")
    dry.scribble("head", b"zz", 2)
    dry.remove("a/y")
    assert (dry.read("a/x"), dry.read_from("a/z", 1), dry.size("head"), dry.read("head")) == (
        b"one!",
        b"ew",
        4,
        b"\0\0zz",
    )
    assert dry.names("a") == ["x", "z"] and not dry.exists("a/y") and dry.exists("a/z")
    dry.truncate("a/x", 2)
    assert dry.read("a/x") == b"on" and dry.lock("lock", "me") is None
    for path in ("a/y", "a/none"):
        with pytest.raises(DiskError):
            dry.size(path)
    assert {path: bytes(c) for path, c in below.files.items()} == {"a/x": b"one", "a/y": b"two"}
    dry.close()
    assert dry.read("a/x") == b"one" and dry.names("a") == ["x", "y"]
