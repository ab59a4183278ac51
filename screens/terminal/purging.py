"""The command that takes weeks off the handheld for good: purge."""

import sys

from screens.terminal.homes import FINDING, FINE, record_home, wrong_use
from screens.terminal.places import destination_of
from screens.terminal.who import not_shown


def add_purge(commands):
    """Add `purge`, which takes whole exported weeks off the handheld."""
    purge = commands.add_parser("purge", help="take old exported weeks off this handheld; signed stubs stay")
    purge.add_argument("--before", required=True, metavar="2026-W40", help="purge every week before this one")
    purge.add_argument("--by", required=True, metavar="PERSON", help="the lead or administrator who decides it")
    purge.add_argument("--from", dest="place", default="", metavar="FOLDER|https://...",
                       help="where the exports are read back now; without it where weeks last went")  # fmt: skip
    purge.add_argument("--user", default="", metavar="NAME", help="name at the server; the password is asked for")
    purge.add_argument("--ca", default="", metavar="FILE", help="certificates to trust instead of the system's")
    purge.add_argument("--yes", action="store_true", help="don't ask once more")
    purge.set_defaults(run=run_purge)


def run_purge(options):
    from data.leaving import last_destination
    from data.opening import owned_door
    from data.purging import purge_before
    from data.real_disk import RealDisk
    from data.signing import signer_of
    from data.system_clock import SystemClock
    from protocols.event import Event

    home = record_home(options)
    last = last_destination(home)
    to = options.place or last.to
    if not to:
        return wrong_use("nothing was sent from this record; send it first, or say where it lies with --from")
    disk = RealDisk(home)
    place, _ = destination_of(options, to, last)
    with owned_door(disk, SystemClock(), "main.py purge") as (door, _):
        refused = not_shown(door, options.by) or _sure(options, place.label)
        if refused:
            print(refused, file=sys.stderr)
            return FINDING
        gone, found = 0, False
        for week, answer in purge_before(door, options.before, place, signer_of(disk), options.by):
            if isinstance(answer, Event):
                gone += 1
                print(f"{week}: purged, lines {answer.data['first_seq']} to {answer.data['last_seq']}", flush=True)
            else:
                print(f"{week}: {answer}", file=sys.stderr)
                found = True
        if not gone and not found:
            print(f"there is no closed week before {options.before}")
    return FINDING if found else FINE


def _sure(options, label):
    """Promise "" once somebody has said yes, else what to do."""
    if options.yes:
        return ""
    if not sys.stdin.isatty():
        return "nothing was purged: confirm with --yes, or on a terminal"
    print(f"Every week before {options.before} leaves this handheld for good; it then lies only at {label}.")
    said = input("Purge? [yes/no] ")
    return "" if said.strip() == "yes" else "nothing was purged"
