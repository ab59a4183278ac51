"""What a case reference looks like in this unit, in a small syntax of our own: "99-9999".

9 stands for a digit, A for a letter (both of ASCII), everything else for itself. It is matched whole, one character at
a time, so no pattern can make the handheld slow. A pattern without a digit is not taken: it would let a name through.
"""

from __future__ import annotations

LONGEST = 40


def pattern_fault(pattern: str) -> str:
    """Promise why the text is no pattern, or "" when it is one. The empty text is one: any reference fits it."""
    if len(pattern) > LONGEST:
        return f"longer than {LONGEST} characters"
    if pattern and "9" not in pattern:
        return "without a 9 (a digit), so that a name would fit"
    if not pattern.isprintable() or not pattern.isascii():
        return "with characters outside printable ASCII"
    return ""


def fits(pattern: str, reference: str) -> bool:
    """Promise whether the whole reference has the form of the pattern."""
    if not pattern:
        return True
    if len(pattern) != len(reference) or not reference.isascii():
        return False
    return all(_fits_one(mark, char) for mark, char in zip(pattern, reference, strict=True))


def _fits_one(mark: str, char: str) -> bool:
    if mark == "9":
        return char.isdigit()
    return char.isalpha() if mark == "A" else mark == char
