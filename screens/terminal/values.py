"""Values on the command line, each read with an error that says what would be right."""

import argparse


def count(low, high):
    """Promise a reader of whole numbers within bounds."""

    def read(text):
        if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {low} to {high}")
        return int(text)

    return read


def number(low, high):
    """Promise a reader of numbers within bounds."""

    from protocols.numerals import plain_number

    def read(text):
        value = plain_number(text)
        if value is None or not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low} to {high}")
        return value

    return read


def day(text):
    """Promise a date's day; ArgumentTypeError says what is wrong with any other text."""
    from protocols.clock import parse_date
    from protocols.errors import CommandFault

    try:
        return parse_date(text)
    except CommandFault as fault:
        raise argparse.ArgumentTypeError(str(fault)) from fault


def pace(text):
    """Promise how many times real time, or None for as fast as it goes."""
    return None if text == "max" else number(0.1, 100_000)(text)
