"""Keeps the language catalogues in step with the English words: `python3 -m tests.languages`.

Writes `screens/catalogues/<code>.po` anew (new messages empty, changed ones marked fuzzy, gone ones dropped), compiles
each to `.mo`, and names the messages that a translator has still to look at. Any gettext editor edits a .po file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import datetime, timezone
from io import BytesIO

from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from data.opening import shipped_shelf
from protocols.limits import LimitSet
from protocols.model import Claim, Figure, Protocol
from screens.languages import FOLDER, NAMES, SHIPPED_TEXTS
from screens.words import ENGLISH
from screens.words_plural import PLURALS

_DAY = datetime(2026, 1, 1, tzinfo=timezone.utc)
HEADER = "# {name} words of Basinbell. Trade words are those of the units; sentences are our own."


def shipped_texts() -> list[str]:
    """Give every text of the shipped shelf that is shown, each once: of protocols, of chemistries, of limit sets."""
    shelf = shipped_shelf()
    found = [text for sha in shelf.shipped.values() for text in _of_protocol(shelf.protocol(sha))]
    found += [text for claim in shelf.claims.values() for text in _of_claim(claim)]
    found += shelf.limits.disagree.values()
    found += [text for one in shelf.limits.sets.values() for text in _of_limits(one)]
    return list(dict.fromkeys(text for text in found if text))


def _of_protocol(protocol: Protocol) -> Iterator[str]:
    yield from (protocol.title, protocol.spoken, protocol.family, *protocol.cautions)
    for step in protocol.steps:
        yield from (step.says, *step.cautions)
        for limit in step.limits:
            yield from (limit.method, limit.meter)


def _of_claim(claim: Claim) -> Iterator[str]:
    yield from (claim.title, claim.strip_type, claim.gloves, *claim.exposure, *claim.never_for, *claim.cautions)
    values = (getattr(claim, field.name) for field in fields(claim))
    yield from (value.source for value in values if isinstance(value, Figure))


def _of_limits(one: LimitSet) -> Iterator[str]:
    yield from (one.title, one.says, one.source)
    yield from (figure.source for figure in one.figures.values())


def template() -> dict[tuple[str, str | tuple[str, str]], None]:
    """Give every message as (context, English), in order; one that counts as (context, (singular, plural))."""
    wanted: dict[tuple[str, str | tuple[str, str]], None] = {}
    for message_id, english in ENGLISH.items():
        wanted[message_id, (PLURALS[message_id][1], english) if message_id in PLURALS else english] = None
    for text in shipped_texts():
        wanted[SHIPPED_TEXTS, text] = None
    return wanted


def read(code: str) -> Catalog:
    """Give the catalogue of a language as its .po file has it, empty where there is none."""
    path = FOLDER / f"{code}.po"
    if not path.exists():
        return _empty(code)
    with path.open("rb") as file:
        return read_po(file, locale=code)


def _known(old: Catalog, context: str, english: str | tuple[str, str]) -> tuple[str | tuple[str, ...], bool]:
    """The translation there was, and whether the English has changed since."""
    same = old.get(english if isinstance(english, str) else english[0], context)
    if same is not None and same.string and (context == SHIPPED_TEXTS or same.id in (english, tuple(english))):
        return same.string, bool(same.fuzzy)
    if context != SHIPPED_TEXTS:
        for message in old:
            if message.context == context and message.string:
                return message.string, True
    return "", False


def brought_up(code: str) -> Catalog:
    """Give the catalogue of a language with exactly the messages of today."""
    old = read(code)
    new = _empty(code)
    for context, english in template():
        string, fuzzy = _known(old, context, english)
        if isinstance(string, str) is not isinstance(english, str):
            string = ""
        new.add(english, string or None, context=context, flags=["fuzzy"] if fuzzy else [])
    return new


def missing(catalogue: Catalog) -> list[str]:
    """Name every message that nobody has translated, or whose English has changed since."""
    return [f"{m.context}: {m.id!r}" for m in catalogue if m.id and (m.fuzzy or not _whole(m))]


def _whole(message: Message) -> bool:
    strings = message.string if isinstance(message.string, tuple | list) else (message.string,)
    return bool(strings) and all(strings)


def po_bytes(catalogue: Catalog) -> bytes:
    """Give a catalogue as a .po file, the same for the same messages."""
    out = BytesIO()
    write_po(out, catalogue, width=110)
    return out.getvalue()


def mo_bytes(catalogue: Catalog) -> bytes:
    """Give a catalogue compiled, the same for the same messages; what is fuzzy or missing is left out."""
    plain = _empty(str(catalogue.locale))
    for message in catalogue:
        if message.id and not message.fuzzy and _whole(message):
            plain.add(message.id, message.string, context=message.context)
    out = BytesIO()
    write_mo(out, plain)
    return out.getvalue()


def _empty(code: str) -> Catalog:
    """A catalogue whose head doesn't change with the day on which it is written."""
    return Catalog(
        locale=code, charset="utf-8", header_comment=HEADER.format(name=NAMES.get(code, code)), fuzzy=False,
        project="Basinbell", version="1", creation_date=_DAY, revision_date=_DAY, copyright_holder="Basinbell",
        msgid_bugs_address="-", last_translator="-", language_team="-",
    )  # fmt: skip


def main() -> None:
    """Write and compile every catalogue."""
    FOLDER.mkdir(exist_ok=True)
    for code in NAMES:
        if code == "en":
            continue
        catalogue = brought_up(code)
        (FOLDER / f"{code}.po").write_bytes(po_bytes(catalogue))
        (FOLDER / f"{code}.mo").write_bytes(mo_bytes(catalogue))
        left = missing(catalogue)
        print(f"{code}: {len(left)} to translate" + "".join(f"\n  {one}" for one in left[:20]))


if __name__ == "__main__":
    main()
