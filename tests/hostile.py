"""Hostile input for everything that reads what others wrote: one maker of inputs and one reader for each.

A reader returns whether the input was taken, and raises only what is not one of its own named errors. Makers bend good
examples: bytes and tokens swapped, doubled, cut, with odd numbers, deep nesting and characters of every kind.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import date
from functools import lru_cache
from random import Random
from typing import Any, NamedTuple

from data.canonical import canonical
from data.exporters.manifest import ExportRefused, read_manifest
from data.line import open_line, seal
from data.planning import answer
from data.replay import read_lines
from data.signing import REHEARSAL_SECRET, signer
from protocols.durations import read_durations
from protocols.errors import CommandFault, Defect, ProtocolFault, RecordDamaged
from protocols.labels import SEPARATOR, Label, LabelFault, read_label
from protocols.limits import read_limits
from protocols.load import read_claims, read_protocol
from protocols.plan import PlanFault
from screens import words
from screens.catalogue import CatalogueFault
from tests.engine.driver import LIBRARY

ODD = (
    "\x00", "\x1d", "\x1f", "\r\n", "\u2028", "\u202e", "\ud800", "\ufeff", "\U0001f9ea", "\u0663", "é", "\\", '"', "'",
    "../", "..\\", "/etc/passwd", "~", "%n", "{0.__class__}", "{x!r:>99999999}", "=1+1", "@SUM(1)", "$(reboot)", "<b>",
)  # fmt: skip
NUMBERS = (
    "0", "-0", "-1", "1e999", "1e-999", "NaN", "Infinity", "9" * 400, "0x10", "1_000", "2147483648", "9007199254740993",
    "1.7976931348623157e308", "true", "null", "[]", "{}",
)  # fmt: skip


class Target(NamedTuple):
    """One reader under test: how an input is made, and what reads it (True: taken, False: refused by name)."""

    make: Callable[[Random], Any]
    read: Callable[[Any], bool]


def bent(chance: Random, text: str) -> str:
    """Promise the text after some acts of malice; the text itself now and then."""
    for _ in range(chance.choice((0, 1, 1, 1, 2, 3, 6))):
        at, end = sorted((chance.randint(0, len(text)), chance.randint(0, len(text))))
        end = min(end, at + chance.choice((1, 3, 20, 200)))
        middle = chance.choice((
            "", text[at:end] * chance.choice((2, 3, 40)), chance.choice(ODD), chance.choice(NUMBERS),
            chr(chance.randrange(0x110000)), chance.choice("[{(\"'=:,]})") * chance.choice((1, 2, 300)),
            text[end:] [:30], " " * 3,
        ))  # fmt: skip
        text = text[:at] + middle + text[end:]
    return text


# --- protocol, claim and limit files


@lru_cache(maxsize=1)
def _toml() -> tuple[str, ...]:
    """The shipped texts cut into short ones that are still whole, so that one is read quickly."""
    short: list[str] = []
    for path in sorted(LIBRARY.glob("*.toml")):
        text = path.read_text("utf-8")
        mark = next((m for m in ("[[step]]", "[[claim]]", "[[limit]]", "[[set]]") if m in text), "")
        head, *rows = text.split(mark) if mark else [text]  # hand times are whole only together
        short += [mark.join([head, *rows[i : i + 2]]) for i in range(0, len(rows), 7)] or [head]
    return tuple(short)


def _make_toml(chance: Random) -> tuple[int, str]:
    text = chance.choice(_toml())
    fitting = next((n for n, row in enumerate(("step", "claim", "limit", "hands")) if f"[[{row}]]" in text), 0)
    return chance.choice((fitting, fitting, fitting, chance.randrange(4))), bent(chance, text)


def _read_toml(given: tuple[int, str]) -> bool:
    which, text = given
    try:
        (read_protocol, read_claims, read_limits, read_durations)[which](text, "hostile.toml")
    except ProtocolFault as fault:
        if not fault.findings or not all(f.rule and f.remedy for f in fault.findings):
            raise AssertionError("a fault that names nothing") from fault
        return False
    return True


# --- replay lines

_LINES = (
    '{"at":"2026-11-25T09:12:00+01:00","do":"strip-test","subject":"H4","values":{"scope":"B2","result":"pass",'
    '"strip_lot":"S7"},"by":"joss"}',
    '{"at":"2026-11-25T09:12:30+01:00","do":"start","subject":"B2","values":{"bath":"H4","temp_c":21.5,"under":true},'
    '"by":"joss","after":17}',
    '{"at":"2026-11-25T09:15:00Z","do":"clock","values":{"sleep_s":120}}',
    '{"at":"2026-11-25T09:15:00Z","do":"sign-in","subject":"ann","values":{"hash":"ab01ab01ab01ab01ab01ab01ab01ab01"},'
    '"by":"unconfirmed"}',
    '{"at":"2026-11-25T09:16:00Z","do":"set-unit","subject":"unit","values":{"case_pattern":"99-9999","zone":"UTC"},'
    '"by":"ann"}',
)


def _read_replay(text: str) -> bool:
    try:
        read_lines(text.split("\n"))
    except CommandFault:
        return False
    return True


# --- labels

_LABELS = (
    f"]d2010012345678901217280630102LOT7{SEPARATOR}21SER1", "(01)00123456789012(17)280630(10)LOT-7",
    "0100123456789012172806301", "]C18003" + "0" * 14 + "X1", f"10LOT{SEPARATOR}17280600", "STRIP-07", "+A123",
    "]E0123",
)  # fmt: skip
_TODAY = date(2026, 11, 25)


def _read_label(text: str) -> bool:
    try:
        label = read_label(text, _TODAY)
    except LabelFault:
        return False
    if not isinstance(label, Label) or len(label.lot) > 20 or (label.text and label.lot):
        raise AssertionError(f"{text!r} was read as {label}")
    return True


# --- catalogues of other languages


def _make_catalogue(chance: Random) -> tuple[Any, Any]:
    ids = chance.sample(sorted(words.ENGLISH), 3)
    catalogue: dict[Any, Any] = {name: bent(chance, words.ENGLISH[name]) for name in ids}
    if chance.random() < 0.1:
        catalogue[chance.choice((None, 7, "no.such.id", ids[0]))] = chance.choice((None, 7, "", [], "x" * 2000))
    code = chance.choice(("xx", "pt-BR", "de", bent(chance, "xx")))
    return code, chance.choice((catalogue, catalogue, catalogue, [1], None))


def _read_catalogue(given: tuple[Any, Any]) -> bool:
    code, catalogue = given
    before = dict(words._catalogues)
    try:
        words.add_language(code, catalogue)
    except (words.WordsMissing, CatalogueFault):
        return False
    # Whatever was taken can be said with the values of the English text, and does not grow without bound.
    try:
        words.use_language(code)
        for name in catalogue:
            said = words.say(name, **dict.fromkeys(words.fields(name), 7))
            if len(said) > 2000:
                raise AssertionError(f"{name} says {len(said)} characters")
    finally:
        words.use_language("en")
        # A language of the app may have been overwritten: other tests speak it.
        words._catalogues.clear()
        words._catalogues.update(before)
    return True


# --- what an export brings: its manifest and the lines of its chain


@lru_cache(maxsize=1)
def _manifest() -> dict[str, Any]:
    return {
        "v": 1, "device": "hh-1", "unit": "Unit", "week": "2026-W48", "closed": True, "through": 9, "head": "a" * 64,
        "at": "2026-11-25T09:12:00+01:00", "first_seq": 1, "before": "0" * 64, "counts": {"cycles": 2},
        "key": signer(REHEARSAL_SECRET).public, "left_out": {},
        "files": {
            "cycles.csv": {"bytes": 7, "sha256": "b" * 64},
            "chain/2026-W48.jsonl": {"bytes": 9, "sha256": "c" * 64},
        },
    }  # fmt: skip


def _make_manifest(chance: Random) -> tuple[bytes, bytes]:
    if chance.random() < 0.5:
        content = bent(chance, json.dumps(_manifest(), separators=(",", ":"), sort_keys=True) + "\n")
        data = content.encode("utf-8", "surrogatepass")
    else:  # one member bent, then written and signed as it must be: only the form of the values is wrong
        said = {**_manifest(), chance.choice(sorted(_manifest())): _any(chance, 2)}
        if chance.random() < 0.4:
            name = bent(chance, chance.choice(("a.csv", "chain/x", "../x", "/x")))
            said["files"] = {name: {"bytes": 1, "sha256": "d" * 64}}
        try:
            data = canonical(said) + b"\n"
        except Defect:
            data = b"{}"
    return data, signer(REHEARSAL_SECRET).sign(data) if chance.random() < 0.9 else bytes(chance.choice((0, 63, 64)))


def _any(chance: Random, depth: int) -> Any:
    kinds = (None, True, -1, 0.5, 10**17, "", "x", chance.choice(ODD), "2026-W99", "a" * 64)
    if depth and chance.random() < 0.4:
        return chance.choice(([_any(chance, depth - 1)], {bent(chance, "k"): _any(chance, depth - 1)}))
    return chance.choice(kinds)


def _read_manifest(given: tuple[bytes, bytes]) -> bool:
    try:
        manifest = read_manifest(*given)
    except ExportRefused:
        return False
    for name in manifest.files:
        if name.startswith(("/", ".")) or ".." in name.split("/") or "\\" in name:
            raise AssertionError(f"a file outside the export is listed: {name!r}")
    return True


@lru_cache(maxsize=1)
def _line() -> bytes:
    envelope = {
        "v": 1, "seq": 7, "device": "hh-1", "kind": "note", "subject": "B2", "refs": {"scope": "B2"}, "elapsed": 9,
        "wall": "2026-11-25T09:12:00.000+01:00", "boot": "b-1", "by": "ann", "data": {"text": "x"}, "prev": "0" * 64,
    }  # fmt: skip
    return seal(envelope)[0]


def _make_line(chance: Random) -> bytes:
    return bent(chance, _line().decode("utf-8")).encode("utf-8", "surrogatepass")


def _read_line(line: bytes) -> bool:
    try:
        open_line(line, "0" * 64, 7)
    except RecordDamaged:
        return False
    if line != _line():
        raise AssertionError("another line with a hash that fits")
    return True


# --- planning problems

_PROBLEM = (
    '{"tasks":[{"id":"a","scope":"B2","duration_s":60,"uses":{"hands":1},"earliest_s":0,"due_s":null},'
    '{"id":"b","duration_s":60,"uses":{"hands":1,"sink":1},"due_s":900}],"lags":[{"from":"a","to":"b","min_s":300,'
    '"max_s":900,"hard":false},{"from":"b","to":"a","min_s":-1200}],"capacity":{"hands":1,"sink":2},"budget_s":0.01}'
)


def _read_problem(text: str) -> bool:
    try:
        found = answer(text.encode("utf-8", "surrogatepass"), lambda: 0.0)
    except PlanFault:
        return False
    json.dumps(found, allow_nan=False)
    return True


TARGETS: Mapping[str, Target] = {
    "protocol, claim and limit files": Target(_make_toml, _read_toml),
    "replay lines": Target(lambda chance: bent(chance, chance.choice(_LINES)), _read_replay),
    "labels": Target(lambda chance: bent(chance, chance.choice(_LABELS)), _read_label),
    "catalogues": Target(_make_catalogue, _read_catalogue),
    "manifests of exports": Target(_make_manifest, _read_manifest),
    "lines of exports": Target(_make_line, _read_line),
    "planning problems": Target(lambda chance: bent(chance, _PROBLEM), _read_problem),
}
