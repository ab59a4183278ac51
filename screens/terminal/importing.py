"""The command that takes lists in from tables: import."""

import sys
from pathlib import Path

from screens.terminal.homes import FINDING, FINE, named_file, record_home
from screens.terminal.who import not_shown


def add_import(commands):
    """Add `import`, which takes scopes, people or chemistries from CSV."""
    taking = commands.add_parser("import", help="take scopes, people or chemistries from a CSV file, all rows or none")
    taking.add_argument("kind", choices=("scopes", "people", "chemistries"), help="what the rows are")
    taking.add_argument("file", type=Path, metavar="FILE", help="CSV in UTF-8, headers as in the README")
    taking.add_argument(
        "--by", required=True, metavar="PERSON", help="who gives the commands: an id on the unit's list"
    )
    taking.add_argument("--dry-run", action="store_true", help="only list every fault; nothing is written")
    taking.set_defaults(run=run_import)


def run_import(options):
    from data.dry_disk import DryDisk
    from data.import_lists import give, planned
    from data.opening import owned_door
    from data.real_disk import RealDisk
    from data.system_clock import SystemClock
    from protocols.numerals import counted
    from protocols.refusals import Refusal

    home = record_home(options, "open the app once, or name its folder with --home")
    content = named_file(options.file)
    # A dry run is tried on a disk that forgets it, so it may run beside the app.
    disk = DryDisk(RealDisk(home)) if options.dry_run else RealDisk(home)
    with owned_door(disk, SystemClock(), "main.py import") as (door, _):
        asked, faults = planned(door, options.kind, content, options.by)
        for fault in faults:
            print(f"{options.file}: {fault}")
        rows = counted(len({one.row for one in asked}), "row")
        if faults:
            print(f"{options.file}: {counted(len(faults), 'fault')}; nothing was written")
            return FINDING
        if options.dry_run:
            print(f"{options.file}: {options.kind}, {rows} without faults; nothing was written (dry run)")
            return FINE
        refused = not_shown(door, options.by)
        if refused:
            print(refused, file=sys.stderr)
            return FINDING
        for one, answer in give(door, asked):
            if isinstance(answer, Refusal):
                print(f"{options.file}: row {one.row}: {answer}; the rows before it are in the record")
                return FINDING
        print(f"{options.file}: {options.kind}, {rows} taken in by {options.by}")
    return FINE
