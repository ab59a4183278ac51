"""What a barcode or a typed label says: GS1 element strings as a scanner sends them, or plain text.

Only the application identifiers that containers, strip bottles and scopes carry are known (GTIN, lot, dates, serial,
additional ids, GRAI, GIAI), with their lengths and forms as in the GS1 Syntax Dictionary. An element of variable length
ends at a separator (FNC1, sent as ASCII 29) or at the end. Some scanners and keyboard wedges drop the separator; then
a lot can swallow what follows it, so such a string is refused rather than guessed.

Day 00 of a date is the last day of its month. A two-digit year lies within 49 years before and 50 years after the
current year (GS1 General Specifications, 7.12), so `today` is handed in.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from protocols.errors import TechnicianError
from protocols.reasons import aside

SEPARATOR = "\x1d"
# Symbology identifiers of GS1 carriers (ISO/IEC 15424): GS1-128, GS1 DataMatrix, GS1 QR, GS1 DataBar and composite.
GS1_MARKS = ("]C1", "]d2", "]Q3", "]e0")
LONGEST = 200
# GS1 character set 82 (GS1 General Specifications, figure 7.11-1).
_SET_82 = r"[!\"%&'()*+,\-./0-9:;<=>?A-Z_a-z]"


@dataclass(frozen=True, slots=True)
class _Element:
    """One application identifier: the name of what it holds, its longest value, and the form of the value."""

    name: str
    longest: int
    fixed: bool
    form: re.Pattern[str]


def _fixed(name: str, digits: int) -> _Element:
    return _Element(name, digits, True, re.compile(rf"\d{{{digits}}}"))


def _text(name: str, longest: int) -> _Element:
    return _Element(name, longest, False, re.compile(rf"{_SET_82}{{1,{longest}}}"))


_ELEMENTS = {
    "01": _fixed("gtin", 14), "10": _text("lot", 20), "11": _fixed("made", 6), "15": _fixed("best_before", 6),
    "17": _fixed("expires", 6),
    "21": _text("serial", 20), "240": _text("additional", 30), "250": _text("second_serial", 30),
    "8003": _Element("grai", 30, False, re.compile(rf"0\d{{13}}{_SET_82}{{0,16}}")), "8004": _text("giai", 30),
    # Company internal: read past, never used.
    **{str(ai): _text("internal", 90) for ai in range(90, 100)},
}  # fmt: skip
_KNOWN = "01, 10, 11, 15, 17, 21, 240, 250, 8003, 8004, 90-99"
_DATES = ("made", "best_before", "expires")


class LabelFault(TechnicianError):
    """A scanned label can't be read for certain; scan it again, or type what is printed on it. Made of an aside."""


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says. `text` is set, and nothing else, for plain text without GS1 structure."""

    text: str = ""
    gtin: str = ""
    lot: str = ""
    serial: str = ""
    made: date | None = None
    best_before: date | None = None
    expires: date | None = None
    additional: str = ""
    second_serial: str = ""
    grai: str = ""
    giai: str = ""


def read_label(scanned: str, today: date) -> Label:
    """Promise what a scan or typed text says. Raises LabelFault when it can't be read for certain.

    A string is taken as GS1 when it carries a GS1 symbology mark or a separator, when it is in the printed form with
    brackets, or when it starts with 01 and a GTIN whose check digit fits.
    """
    text = scanned.strip(" \r\n")
    if not text or len(text) > LONGEST:
        raise LabelFault(aside("label-length", count=len(text)))
    mark = next((m for m in GS1_MARKS if text.startswith(m)), "")
    if text.startswith("]") and not mark:
        raise LabelFault(aside("label-kind", mark=text[:3]))
    body = text[len(mark) :]
    if body.startswith("("):
        return _label(_bracketed(body), today)
    separated = bool(mark) or SEPARATOR in body
    if separated or (body.startswith("01") and body[2:16].isdigit() and _check_fits(body[2:16])):
        return _label(_elements(body.strip(SEPARATOR), separated), today)
    if not body.isprintable():
        raise LabelFault(aside("label-control"))
    if body.startswith(("+", "=")):
        raise LabelFault(aside("label-other"))
    return Label(text=body)


def _bracketed(text: str) -> Iterator[tuple[str, str]]:
    parts = re.split(r"\((\d{2,4})\)", text)
    if parts[0]:
        raise LabelFault(aside("label-bracket", text=text))
    yield from zip(parts[1::2], parts[2::2], strict=True)


def _elements(text: str, separated: bool) -> Iterator[tuple[str, str]]:
    """The elements of a raw string; `separated` says that separators can be relied on."""
    rest = text
    while rest:
        ai = _identifier(rest)
        element = _ELEMENTS[ai]
        rest = rest[len(ai) :]
        if element.fixed:
            value, rest = rest[: element.longest], rest[element.longest :].removeprefix(SEPARATOR)
        else:
            value, _, rest = rest.partition(SEPARATOR)
            if not separated:
                _certain(ai, value)
        yield ai, value


def _identifier(text: str) -> str:
    for length in (2, 3, 4):
        if text[:length] in _ELEMENTS:
            return text[:length]
    raise LabelFault(aside("label-goes-on", text=text[:8], elements=_KNOWN))


def _certain(ai: str, value: str) -> None:
    """Raise LabelFault when a value that nothing ends could hold further elements."""
    for at in range(1, len(value)):
        if _reads(value[at:]):
            one, other = value[:at], value[at:]
            raise LabelFault(aside("label-unsure", name=_ELEMENTS[ai].name, value=value, one=one, rest=other))


def _reads(text: str) -> bool:
    """Whether a text is a whole sequence of elements by itself."""
    for ai, element in _ELEMENTS.items():
        if not text.startswith(ai):
            continue
        value = text[len(ai) :]
        if not element.fixed:
            return bool(value)
        fits = element.form.fullmatch(value[: element.longest]) and _possible(element, value[: element.longest])
        if fits and (len(value) == element.longest or _reads(value[element.longest :])):
            return True
    return False


def _possible(element: _Element, value: str) -> bool:
    if element.name == "gtin":
        return _check_fits(value)
    return element.name not in _DATES or (1 <= int(value[2:4]) <= 12 and int(value[4:]) <= 31)


def _label(elements: Iterator[tuple[str, str]], today: date) -> Label:
    found: dict[str, str | date] = {}
    for ai, value in elements:
        element = _ELEMENTS.get(ai)
        if element is None:
            raise LabelFault(aside("label-element", ai=ai, elements=_KNOWN))
        if not element.form.fullmatch(value):
            raise LabelFault(aside("label-form", ai=ai, name=element.name, value=value))
        if element.name == "gtin" and not _check_fits(value):
            raise LabelFault(aside("label-check", ai=ai, value=value))
        if element.name == "grai" and not _check_fits(value[:14]):
            raise LabelFault(aside("label-check", ai=ai, value=value))
        if element.name == "internal":
            continue
        read = _date(ai, value, today) if element.name in _DATES else value
        if found.setdefault(element.name, read) != read:
            raise LabelFault(aside("label-twice", ai=ai, name=element.name))
    if not found:
        raise LabelFault(aside("label-nothing"))
    return Label(**found)  # type: ignore[arg-type]


def _date(ai: str, value: str, today: date) -> date:
    year, month, day = int(value[:2]), int(value[2:4]), int(value[4:])
    year += today.year // 100 * 100
    if year - today.year >= 51:
        year -= 100
    elif year - today.year <= -50:
        year += 100
    try:
        return date(year, month, day or calendar.monthrange(year, month)[1])
    except ValueError as error:  # IllegalMonthError is one too
        raise LabelFault(aside("label-date", ai=ai, value=value)) from error


def _check_fits(digits: str) -> bool:
    """Whether the last digit is the GS1 check digit of those before it (GS1 General Specifications, 7.9)."""
    if not digits.isdigit() or not digits.isascii():
        return False
    weighted = sum(int(d) * (3 if i % 2 else 1) for i, d in enumerate(reversed(digits)))
    return weighted % 10 == 0
