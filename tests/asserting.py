"""An assert outside a test file, for the test that such ones are run whatever Python's flags."""

from __future__ import annotations


def must_be_one(value: int) -> None:
    """Raise AssertionError for anything but 1."""
    assert value == 1
