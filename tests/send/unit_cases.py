"""Exports of four handhelds of two units, with everything in them that can contradict, for gathering."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from data.exporters.manifest import MANIFEST, SIGNATURE, with_manifest
from data.exporters.week_forms import week_forms
from data.signing import signer
from tests.send.cases import NEXT_WEEK, THIRD_WEEK, WEEK, Handheld, exported, put, three_weeks


@lru_cache(maxsize=1)
def exports() -> dict[str, dict[str, bytes]]:
    """Promise exports by a name that says what they are.

    hh1: three weeks; hh1-early: its first week before it had ended. hh2 works in the same unit at the same time: it has
    hh1's scope B2 and its bath H4. far: another unit, with a scope of its own and a bath that is also called H4. fork:
    hh1's first week as somebody else tells it, signed with hh1's key. impostor: another key under the name hh2.
    """
    found = {f"hh1-{week}": exported(week) for week in (WEEK, NEXT_WEEK, THIRD_WEEK)}
    early = Handheld("hh1")
    early.whole_cycle("B2")
    found["hh1-early"] = early.export()
    second = Handheld("hh2", "2026-11-25T08:10:00+01:00")
    second.whole_cycle("B2")
    second.next_week()
    found["hh2"] = second.export()
    found["impostor"] = week_forms(second.disk, second.journal, WEEK, signer(b"\x07" * 32))
    far = Handheld("far")
    far.must("set-unit", "unit", name="Far away")
    far.must("add-scope", "B9", protocol="bronchoscope-1", model="demo", serial="far 9")
    far.whole_cycle("B9")
    far.next_week()
    found["far"] = far.export()
    fork = Handheld("hh1")
    fork.whole_cycle("L8")
    fork.next_week()
    found["fork"] = fork.export()
    return found


def laid_out(folder: Path, names: list[str] | None = None) -> list[Path]:
    """Promise those exports each in a folder of its own, in the order named."""
    wanted = list(exports()) if names is None else names
    return [put(exports()[name], folder / name) for name in wanted]


def signed_otherwise(name: str, changes: dict[str, bytes], **said: object) -> dict[str, bytes]:
    """Promise an export with other files, signed by hh1's own key as if they were right."""
    files = exports()[name]
    old = json.loads(files[MANIFEST])
    members = {member: old[member] for member in old if member not in ("v", "key", "files")}
    rest = {n: content for n, content in files.items() if n not in (MANIFEST, SIGNATURE)}
    return with_manifest({**rest, **changes}, {**members, **said}, three_weeks().signer)


def one_bath_after_another() -> dict[str, dict[str, bytes]]:
    """Promise exports of a bath that hh1 pours in one week and discards in the next, in which nothing lay in it, and of
    the same label and lot poured on hh2 after that.
    """
    first = Handheld("hh1")
    first.whole_cycle("B2")
    first.next_week()
    first.must("close-bath", "H4", reason="old")
    second = Handheld("hh2", "2026-12-03T08:00:00+01:00")
    second.whole_cycle("B3")
    return {"hh1": first.export(), "hh1-later": first.export(NEXT_WEEK), "hh2": second.export(NEXT_WEEK)}
