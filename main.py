"""Basinbell: the command line, and the way into the app.

Exit codes: 0 fine, 1 a finding, 2 wrong use. This file must load on any Python 3, so that an unsupported one gets a
clear answer; everything that needs more is imported inside the commands.
"""

import sys

PYTHON_FIRST, PYTHON_END = (3, 11), (3, 14)
FINE, FINDING, WRONG_USE = 0, 1, 2


def python_refusal(version):
    """Promise why this Python can't run Basinbell, or "" when it can."""
    have = "Python {}.{}".format(version[0], version[1])  # noqa: UP032 (must load on old Pythons)
    if tuple(version[:2]) < PYTHON_FIRST:
        return have + " is too old: Basinbell needs 3.11 to 3.13, for the standard library's TOML reader (tomllib)."
    if tuple(version[:2]) >= PYTHON_END:
        return have + " is too new: Basinbell needs 3.11 to 3.13, because Kivy 2.3.1 has no build for later ones."
    return ""


if __name__ == "__main__" and python_refusal(sys.version_info):
    sys.exit(python_refusal(sys.version_info))

import argparse
import json
import os
from contextlib import contextmanager
from pathlib import Path

DESCRIPTION = """\
Basinbell keeps the timers, prompts and record of a bench where flexible endoscopes are reprocessed by hand.
The label of the chemical and the maker's instructions for use (IFU) win over every figure in it, and it never
releases a scope for use: a named person does.
"""
EXAMPLES = """\
examples:
  python3 main.py                                  the app; its record lies in the home folder
  python3 main.py --demo                           the app on an invented bench under way; nothing is kept
  python3 main.py rehearse                         a shift by a simulated technician, printed
  python3 main.py rehearse --out trial             the same, leaving its record and export in trial/
  python3 main.py check my-protocol.toml           look for faults in a protocol
  python3 main.py replay day.jsonl --out copy      give a file of commands to the door, answer by answer
  python3 main.py --home trial export --week 2026-W48 --to out
  python3 main.py --home trial send --to /media/stick
  python3 main.py gather /media/stick /media/share --into unit
  python3 main.py verify trial                     hold a record against itself, its ledger and its exports
  python3 main.py --home trial trace --bath H1     every cycle and event that touched a bath
"""


def default_home():
    """Promise the home folder where none is named: the user's data folder, as the XDG convention has it."""
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "basinbell"


def parser():
    """Promise the parser of the whole command line."""
    top = argparse.ArgumentParser(
        prog="main.py",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--home", type=Path, default=None, metavar="DIR", help="the folder that holds the record")
    top.add_argument("--demo", action="store_true", help="open the app on an invented bench under way; nothing is kept")
    commands = top.add_subparsers(dest="command", title="commands", metavar="COMMAND")

    check = commands.add_parser("check", help="name every fault of protocol or chemistry files")
    check.add_argument("files", nargs="+", type=Path, metavar="FILE", help="TOML files")
    check.set_defaults(run=run_check)

    rehearse = commands.add_parser("rehearse", help="a shift by a simulated technician on a simulated clock")
    rehearse.add_argument("--scopes", type=count(1, 200), default=6, metavar="N", help="how many scopes (6)")
    rehearse.add_argument("--hours", type=number(0.1, 168), default=8, metavar="H", help="how long (8)")
    rehearse.add_argument("--seed", type=count(0, 2**63), default=1, metavar="S", help="same seed, same record (1)")
    rehearse.add_argument("--plan", action="store_true", help="the technician turns to what the planner says")
    rehearse.add_argument("--out", type=Path, metavar="DIR", help="leave the record and the week's export here")
    rehearse.add_argument("--pace", type=pace, default=None, metavar="max|60", help="max, or so many times real time")
    rehearse.add_argument(
        "--pictures", action="store_true", help="add pictures of the real pages, in DIR/pictures, else in pictures/"
    )
    rehearse.set_defaults(run=run_rehearse)

    replay = commands.add_parser("replay", help="give a file of commands with times to the door")
    replay.add_argument("file", type=Path, metavar="FILE.jsonl", help="one JSON object a line, see the README")
    replay.add_argument("--out", type=Path, metavar="DIR", help="leave the record here; without it nothing is kept")
    replay.set_defaults(run=run_replay)

    plan = commands.add_parser("plan", help="who does what when, with scarce hands and limits; an answer as JSON")
    plan.add_argument("file", type=Path, metavar="FILE.json", help="tasks, lags and capacity, see the README")
    plan.set_defaults(run=run_plan)

    export = commands.add_parser("export", help="write a week: CSV, chain, FHIR, PDF, signed manifest")
    export.add_argument("--week", required=True, metavar="2026-W48", help="ISO week")
    export.add_argument("--to", required=True, type=Path, metavar="DIR", help="folder to write into")
    export.set_defaults(run=run_export)

    send = commands.add_parser("send", help="send weeks to a folder or a WebDAV server, with receipts")
    send.add_argument("--to", default="", metavar="FOLDER|https://...", help="where to; without it where it last went")
    which = send.add_mutually_exclusive_group()
    which.add_argument("--week", default="", metavar="2026-W48", help="one ISO week")
    which.add_argument("--waiting", action="store_true", help="every week that has not arrived there (the default)")
    send.add_argument("--user", default="", metavar="NAME", help="name at the server; the password is asked for")
    send.add_argument("--ca", default="", metavar="FILE", help="certificates to trust instead of the system's")
    send.set_defaults(run=run_send)

    key = commands.add_parser("key", help="the public key that this handheld's exports are signed with")
    key.set_defaults(run=run_key)

    gathering = commands.add_parser("gather", help="bring exports of several handhelds together")
    gathering.add_argument("sources", nargs="+", type=Path, metavar="FROM", help="folders with exports in them")
    gathering.add_argument("--into", required=True, metavar="DEST", help="a folder, or postgresql://user@host/name")
    gathering.add_argument("--keys", type=Path, metavar="FILE", help="keys got beforehand, a line each: device key")
    gathering.set_defaults(run=run_gather)

    verify = commands.add_parser("verify", help="hold the record against itself, its ledger and its exports")
    verify.add_argument("path", nargs="?", type=Path, metavar="PATH", help="a home, a rehearsal's --out, or an export")
    verify.add_argument("--chain", action="store_true", help="only the chain of lines, several times faster")
    verify.set_defaults(run=run_verify)

    trace = commands.add_parser("trace", help="look back: every cycle and event that touched something")
    what = trace.add_mutually_exclusive_group(required=True)
    what.add_argument("--scope", metavar="TAG", help="a scope")
    what.add_argument("--bath", metavar="ID", help="a bath, by its label or the id of its pouring")
    what.add_argument("--lot", metavar="LOT", help="a lot of solution or test strips")
    what.add_argument("--person", metavar="P", help="whoever gave a command")
    what.add_argument("--case", metavar="C", help="a case reference")
    trace.add_argument("--since", type=day, metavar="2026-11-25", help="only what has gone on since that day")
    trace.add_argument("--csv", type=Path, metavar="FILE", help="write every event found as CSV")
    trace.set_defaults(run=run_trace)

    dilute = commands.add_parser("dilute", help="how much water to how much stock, with the units checked")
    dilute.add_argument("--stock", required=True, metavar="5%", help="strength of the stock: %%, ppm, mg/L, g/L")
    dilute.add_argument("--target", required=True, metavar="0.1%", help="strength wanted")
    dilute.add_argument("--make", metavar="10L", help="volume wanted: mL, L, gal, fl oz")
    dilute.add_argument("--powder", action="store_true", help="the stock is a powder: grams to a litre")
    dilute.set_defaults(run=run_dilute)
    return top


def count(low, high):
    def read(text):
        if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {low} to {high}")
        return int(text)

    return read


def number(low, high):
    def read(text):
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a number from {low} to {high}")
        return value

    return read


def day(text):
    from protocols.clock import parse_date
    from protocols.errors import CommandFault

    try:
        return parse_date(text)
    except CommandFault as fault:
        raise argparse.ArgumentTypeError(str(fault)) from fault


def pace(text):
    return None if text == "max" else number(0.1, 100_000)(text)


def run_check(options):
    from data.checking import check_file

    found = False
    for path in options.files:
        try:
            text = path.read_bytes()
        except OSError as error:
            return wrong_use(f"{path} can't be read ({error.strerror}); name a file")
        findings, what = check_file(text, str(path))
        for finding in findings:
            print(finding)
        if not findings:
            print(f"{path}: {what}, no faults")
        found = found or bool(findings)
    return FINDING if found else FINE


def run_rehearse(options):
    from data.leaving import leave_weeks
    from data.memory_disk import MemoryDisk
    from data.rehearse.run import Plan, paced, rehearse

    plan = Plan(options.scopes, options.hours, options.seed, options.plan)
    with new_home(options.out) if options.out else memory(MemoryDisk()) as disk:
        pictures = taken_into((options.out or Path()) / "pictures") if options.pictures else None
        look = (lambda door: pictures.look(door, disk)) if pictures else (lambda door: None)
        door, tally = rehearse(disk, plan, print, paced(options.pace), look)
        print("\n".join(tally.lines()))
        if pictures:
            pictures.ledger(door, disk)
            for path in pictures.taken:
                print(f"picture: {path}")
        if options.out:
            for line in leave_weeks(disk, door.journal, options.out):
                print(line)
    return FINE


def taken_into(folder):
    """Promise the pictures of the real pages, taken into a folder; Kivy is loaded only for them."""
    from screens.pictures import Pictures

    return Pictures(folder)


def run_replay(options):
    from data.memory_disk import MemoryDisk
    from data.opening import shipped_shelf
    from data.replay import read_lines, replay_lines

    try:
        with options.file.open(encoding="utf-8", newline="\n") as file:
            lines = read_lines(file)
    except OSError as error:
        return wrong_use(f"{options.file} can't be read ({error.strerror}); name a file")
    except UnicodeDecodeError as error:
        print(f"{options.file}: not UTF-8 text (byte {error.start}); nothing was written", file=sys.stderr)
        return FINDING
    with new_home(options.out) if options.out else memory(MemoryDisk()) as disk:
        for answer in replay_lines(disk, shipped_shelf(), lines):
            print(json.dumps(answer, ensure_ascii=False))
    return FINE


def run_plan(options):
    import time

    from data.planning import answer

    try:
        text = options.file.read_bytes()
    except OSError as error:
        return wrong_use(f"{options.file} can't be read ({error.strerror}); name a file")
    start = time.monotonic()
    print(json.dumps(answer(text, lambda: time.monotonic() - start), ensure_ascii=False))
    return FINE


def run_export(options):
    from data.leaving import export_home

    home = options.home or default_home()
    if not (home / "journal").is_dir():
        return wrong_use(f"{home} holds no record; name its folder with --home")
    print(export_home(home, options.week, options.to))
    return FINE


def run_send(options):
    from getpass import getpass

    from data.destinations import Credentials, destination
    from data.leaving import last_destination, remember_destination, send_home
    from protocols.errors import BasinbellError

    home = options.home or default_home()
    if not (home / "journal").is_dir():
        return wrong_use(f"{home} holds no record; name its folder with --home")
    to = options.to or last_destination(home)
    if not to:
        return wrong_use("nothing was sent from this record before; say where with --to FOLDER or --to https://...")
    # Kept in memory only: a password on the command line would stand in lists of processes and in histories.
    user = options.user or os.environ.get("BASINBELL_SEND_USER", "")
    password = os.environ.get("BASINBELL_SEND_PASSWORD", "")
    if user and not password and sys.stdin.isatty():
        password = getpass(f"password of {user}: ")
    place = destination(to, Credentials(user, password), options.ca)
    found, arrived = False, 0
    for week, what in send_home(home, place, options.week, wall_now, lambda line: print(line, flush=True)):
        if isinstance(what, BasinbellError):
            print(f"{week}: {what}", file=sys.stderr)
            found = True
            continue
        arrived += 1
        print(f"{week}: {'sent and read back' if what.written else 'was there already, read back'}: {place.label}")
    if arrived:
        remember_destination(home, place.label)
    elif not found:
        print(f"nothing waits for {place.label}")
    return FINDING if found else FINE


def wall_now():
    """Promise the wall time of this moment, as receipts have it."""
    import time

    from protocols.clock import wall_text

    return wall_text(time.time_ns() // 1_000_000, "UTC")


def run_key(options):
    from data.leaving import public_key

    home = options.home or default_home()
    if not (home / "journal").is_dir():
        return wrong_use(f"{home} holds no record; name its folder with --home")
    print(" ".join(public_key(home)))
    return FINE


def run_gather(options):
    from data.unit_gather import gather, unit_at
    from data.unit_gather.found import read_keys

    for source in options.sources:
        if not source.is_dir():
            return wrong_use(f"{source} is no folder; name one that holds exports")
    keys = read_keys(options.keys) if options.keys else None
    result = gather(options.sources, unit_at(options.into), keys, lambda line: print(line, flush=True))
    print(", ".join(f"{count} {how}" for how, count in result.counts.items()))
    for source, key in sorted(result.keys.items()):
        print(f"{source}: its key {key} was taken from its own export; compare it with main.py key on that handheld")
    for kind, what, *rest in result.conflicts:
        print(f"conflict: {kind}: {what}: {', '.join(part for part in rest if part)}")
    return FINDING if result.refused or result.conflicts else FINE


def run_verify(options):
    from data.audit import exports_in, is_home, verify_exports, verify_home

    path = options.path or options.home or default_home()
    exports = exports_in(path)
    if is_home(path):
        audit = verify_home(path, chain_only=options.chain)
    elif not exports:
        return wrong_use(f"{path} holds neither a record nor an export; name a home folder or an exported week")
    else:
        inside = exports[0].resolve().parent.parent
        home = options.home or (inside if is_home(inside) else None)
        audit = verify_home(home, exports, options.chain) if home else None
    found = 0
    for difference in audit.differences() if audit else verify_exports(exports):
        print(difference)
        found += 1
    looked_at = audit.summary() if audit else f"{len(exports)} exports without their journal"
    print(f"{path}: {looked_at}; " + (f"{found} differences" if found else "nothing differs"))
    return FINDING if found else FINE


def run_trace(options):
    from data import trace_text
    from data.trace import trace
    from data.trace_index import KINDS

    home = options.home or default_home()
    if not (home / "journal").is_dir():
        return wrong_use(f"{home} holds no record; name its folder with --home")
    kind = next(name for name in KINDS if getattr(options, name) is not None)
    found = trace(home, kind, getattr(options, kind), options.since)
    print("\n".join(trace_text.lines(found)))
    if options.csv:
        from data.exporters.csv_trace import csv_bytes

        try:
            options.csv.write_bytes(csv_bytes(found))
        except OSError as error:
            return wrong_use(f"{options.csv} can't be written ({error.strerror}); name another file")
    return FINE if found.cycles or found.others else FINDING


def run_dilute(options):
    from protocols.dilution import recipe

    print(recipe(options.stock, options.target, options.make or "", options.powder))
    return FINE


@contextmanager
def new_home(folder):
    """Promise a locked disk on a folder without a record; SystemExit(2) when it holds one already."""
    from data.home import LOCK
    from data.real_disk import RealDisk

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SystemExit(wrong_use(f"{folder} is there already and not empty; name a new folder"))
    folder.mkdir(parents=True, exist_ok=True)
    disk = RealDisk(folder)
    disk.lock(LOCK, "main.py")
    try:
        yield disk
    finally:
        disk.close()


@contextmanager
def memory(disk):
    yield disk


def wrong_use(message):
    print(f"main.py: {message}", file=sys.stderr)
    return WRONG_USE


def run_app(options):
    """Open the app. Whether there is a display is decided before Kivy is imported."""
    from screens.app import display_refusal, open_app, open_demo

    refusal = display_refusal()
    if refusal:
        return wrong_use(refusal)
    if options.demo:
        if options.home is not None:
            return wrong_use("--demo keeps nothing, so it takes no --home; leave one of them out")
        open_demo()
    else:
        open_app(options.home or default_home())
    return FINE


def main(arguments=None):
    """Promise the exit code of one call of the command line."""
    from protocols.errors import BasinbellError, Defect

    options = parser().parse_args(arguments)
    if options.demo and options.command:
        return wrong_use("--demo is for the app; leave it out, or leave out the command")
    try:
        return options.run(options) if options.command else run_app(options)
    except Defect:
        raise  # a defect is ours to mend: its traceback is what helps
    except BasinbellError as error:
        print(error, file=sys.stderr)
        return FINDING
    except BrokenPipeError:
        # The reader of our output has gone (such as `| head`): not an error of ours.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE


if __name__ == "__main__":
    sys.exit(main())
