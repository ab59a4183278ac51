"""The register of scopes from the command line, read beside the app."""

from __future__ import annotations

import main
from tests.cli.cases import opened


def test_scopes_lists_where_each_is(tmp_path, capsys):
    day = opened()
    day.give("report-fault", "B4", kind="damage", text="buckled")
    day.give("add-scope", "B6", protocol="bronchoscope-1", serial="S-6", loaned_until="2026-12-31")
    day.give("procedure-ended", "B6", case="26-9", procedure_end=day.at.isoformat())
    file = tmp_path / "day.jsonl"
    file.write_text(day.text(), encoding="utf-8")
    assert main.main(["replay", str(file), "--out", str(tmp_path / "home")]) == 0
    capsys.readouterr()
    assert main.main(["--home", str(tmp_path / "home"), "scopes"]) == 0
    title, *rows = capsys.readouterr().out.splitlines()
    assert title.split()[:2] == ["tag", "where"]
    assert [row.split("  ")[0] for row in rows] == ["B2", "B4", "B6"]
    assert "in cycle" in rows[0] and "held" in rows[1] and "damage: buckled" in rows[1]
    assert "waiting" in rows[2] and "case 26-9 has ended" in rows[2] and "of 1:00:00" in rows[2]
    assert "S-6" in rows[2] and "2026-12-31" in rows[2]


def test_scopes_without_a_record_is_wrong_use(tmp_path, capsys):
    assert main.main(["--home", str(tmp_path), "scopes"]) == 2
    assert "--home" in capsys.readouterr().err
