"""Commands that take weeks off the handheld and bring them together: export, send, key and gather."""

import sys
from pathlib import Path

from screens.terminal.homes import FINDING, FINE, record_home, wrong_use
from screens.terminal.places import destination_of


def add_export(commands):
    """Add `export`, which writes a week."""
    export = commands.add_parser("export", help="write a week: CSV, chain, FHIR, PDF, signed manifest")
    export.add_argument("--week", required=True, metavar="2026-W48", help="ISO week")
    export.add_argument("--to", required=True, type=Path, metavar="DIR", help="folder to write into")
    export.set_defaults(run=run_export)


def run_export(options):
    from data.leaving import export_home

    home = record_home(options)
    print(export_home(home, options.week, options.to, lambda progress: print(progress, file=sys.stderr, flush=True)))
    return FINE


def add_send(commands):
    """Add `send`, which sends weeks and keeps receipts."""
    send = commands.add_parser("send", help="send weeks to a folder or a WebDAV server, with receipts")
    send.add_argument("--to", default="", metavar="FOLDER|https://...", help="where to; without it where it last went")
    which = send.add_mutually_exclusive_group()
    which.add_argument("--week", default="", metavar="2026-W48", help="one ISO week")
    which.add_argument("--waiting", action="store_true", help="every week that has not arrived there (the default)")
    send.add_argument("--user", default="", metavar="NAME", help="name at the server; the password is asked for")
    send.add_argument("--ca", default="", metavar="FILE", help="certificates to trust instead of the system's")
    send.set_defaults(run=run_send)


def run_send(options):
    from data.leaving import last_destination, remember_destination, send_home
    from data.send_place import Place
    from protocols.errors import BasinbellError

    home = record_home(options)
    last = last_destination(home)
    to = options.to or last.to
    if not to:
        return wrong_use("nothing was sent from this record before; say where with --to FOLDER or --to https://...")
    place, trusted = destination_of(options, to, last)
    found, arrived = False, 0
    for week, what in send_home(home, place, options.week, wall_now, lambda line: print(line, flush=True)):
        if isinstance(what, BasinbellError):
            print(f"{week}: {what}", file=sys.stderr)
            found = True
            continue
        arrived += 1
        print(f"{week}: {'sent and read back' if what.written else 'was there already, read back'}: {place.label}")
    if arrived:
        remember_destination(home, Place(place.label, trusted))
    elif not found:
        print(f"nothing waits for {place.label}")
    return FINDING if found else FINE


def wall_now():
    """Promise the wall time of this moment, as receipts have it."""
    import time

    from protocols.clock import wall_text

    return wall_text(time.time_ns() // 1_000_000, "UTC")


def add_key(commands):
    """Add `key`, which shows the public key of exports."""
    key = commands.add_parser("key", help="the public key that this handheld's exports are signed with")
    key.set_defaults(run=run_key)


def run_key(options):
    from data.leaving import public_key

    home = record_home(options)
    print(" ".join(public_key(home)))
    return FINE


def add_gather(commands):
    """Add `gather`, which brings exports together."""
    gathering = commands.add_parser("gather", help="bring exports of several handhelds together")
    gathering.add_argument("sources", nargs="+", type=Path, metavar="FROM", help="folders with exports in them")
    gathering.add_argument("--into", required=True, metavar="DEST", help="a folder, or postgresql://user@host/name")
    gathering.add_argument("--keys", type=Path, metavar="FILE", help="keys got beforehand, a line each: device key")
    gathering.set_defaults(run=run_gather)


def run_gather(options):
    from data.plain_files import is_folder
    from data.unit_gather import gather, unit_at
    from data.unit_gather.found import read_keys

    for source in options.sources:
        if not is_folder(source):
            return wrong_use(f"{source} is no folder; name one that holds exports")
    keys = read_keys(options.keys) if options.keys else None
    result = gather(options.sources, unit_at(options.into), keys, lambda line: print(line, flush=True))
    print(", ".join(f"{count} {how}" for how, count in result.counts.items()))
    for source, key in sorted(result.keys.items()):
        print(f"{source}: its key {key} was taken from its own export; compare it with main.py key on that handheld")
    for kind, what, *rest in result.conflicts:
        print(f"conflict: {kind}: {what}: {', '.join(part for part in rest if part)}")
    return FINDING if result.refused or result.conflicts else FINE
