"""People, PINs and unconfirmed acts through a replay file: recorded, exported, and verified whole."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import main
from data.pins import pin_values, proof
from protocols.unit import Pin

PIN = "740912"
START = "2026-11-25T08:%02d:%02d+00:00"


def _lines() -> list[dict[str, Any]]:
    kept = pin_values(PIN, lambda length: bytes(range(length)))
    pin = Pin(**kept)  # type: ignore[arg-type]
    wrong, right = ({"hash": proof(typed, pin)} for typed in ("1111", PIN))
    receipt = {"case": "26-0412", "procedure_date": "2026-11-25", "procedure_type": "x", "precleaned": "no"}
    person, rules = {"name": "Ann", "role": "administrator"}, {"pins_required": True, "case_pattern": "99-9999"}
    given: list[tuple[str, str, dict[str, Any], str]] = [
        ("add-person", "ann", person, "ann"), ("set-pin", "ann", kept, "ann"), ("set-unit", "unit", rules, "ann"),
        ("sign-in", "ann", wrong, "unconfirmed"), ("sign-in", "ann", wrong, "unconfirmed"),
        ("sign-in", "ann", wrong, "unconfirmed"), ("sign-in", "ann", right, "unconfirmed"),
        ("adopt-protocol", "gastroscope", {}, "ann"), ("add-scope", "G4", {"protocol": "gastroscope"}, "ann"),
        ("receive", "G4", {**receipt, "case": "A. Name"}, "ann"), ("receive", "G4", receipt, "ann"),
        ("out-of-service", "G4", {"reason": "cut", "owner": "ann"}, "unconfirmed"),
        ("confirm-acts", "G4", {}, "ann"), ("sign-in", "ann", right, "unconfirmed"),
        ("add-person", "eve", {"name": "Eve", "role": "lead"}, "ann"),
        ("retire-person", "eve", {"reason": "left"}, "ann"),
    ]  # fmt: skip
    return [
        {"at": START % divmod(i * 10, 60), "do": do, "subject": subject, "values": values, "by": by}
        for i, (do, subject, values, by) in enumerate(given)
    ]


def test_a_replay_takes_hashes_and_its_record_verifies(tmp_path: Path, capsys: Any) -> None:
    file, home = tmp_path / "day.jsonl", tmp_path / "home"
    file.write_text("\n".join(json.dumps(line) for line in _lines()), encoding="utf-8")
    assert main.main(["replay", str(file), "--out", str(home)]) == 0
    answers = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    refused = {answer["line"]: answer for answer in answers if answer["answer"] != "accepted"}
    # The right PIN comes 10 s after the third wrong one, and a name is no case reference.
    assert [(line, answer["rule"]) for line, answer in refused.items()] == [(7, "pin-wait"), (10, "case-form")]
    assert [answer["line"] for answer in answers if answer.get("became") == "pin-wrong"] == [4, 5, 6]
    assert main.main(["--home", str(home), "export", "--week", "2026-W48", "--to", str(tmp_path / "out")]) == 0
    assert main.main(["verify", str(home)]) == 0
    assert "nothing differs" in capsys.readouterr().out
    kinds = [json.loads(line) for line in (home / "journal" / "2026-W48.jsonl").read_text("utf-8").splitlines()]
    assert [line["by"] for line in kinds if line["data"].get("unconfirmed")] == ["unconfirmed"]
    everything = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file() and path != file)
    assert PIN.encode() not in everything and b"A. Name" not in everything
