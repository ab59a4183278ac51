"""Who gives a command on the command line: shown by PIN where the person has one."""

import os
import sys


def not_shown(door, by):
    """Promise "" once whoever decides has shown who they are, else why not. A wrong PIN stands in the record."""
    from getpass import getpass

    from data.pins import proof
    from protocols.event import Command
    from protocols.refusals import Refusal
    from protocols.unconfirmed import UNCONFIRMED

    person = door.unit.people.get(by)
    if person is None or person.pin is None:
        pins = door.unit.settings.pins_required and person is not None
        return f"{by} has no PIN, and the unit requires one; an administrator sets it in the app" if pins else ""
    pin = os.environ.get("BASINBELL_PIN", "") or (getpass(f"PIN of {person.name}: ") if sys.stdin.isatty() else "")
    if not pin:
        return f"{person.name} has a PIN; type it here on a terminal, or give it in BASINBELL_PIN"
    answer = door.give(Command("sign-in", by, {"hash": proof(pin, person.pin)}, UNCONFIRMED))
    if isinstance(answer, Refusal):
        return str(answer)
    return "" if answer.kind == "sign-in" else f"that is not the PIN of {person.name}; the try is in the record"
