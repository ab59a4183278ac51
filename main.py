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
  python3 main.py rehearse                         a shift by a simulated technician, printed
  python3 main.py rehearse --out trial             the same, leaving its record and export in trial/
  python3 main.py check my-protocol.toml           look for faults in a protocol
  python3 main.py replay day.jsonl --out copy      give a file of commands to the door, answer by answer
  python3 main.py --home trial export --week 2026-W48 --to out
  python3 main.py verify trial                     hold a record against itself, its ledger and its exports
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
    commands = top.add_subparsers(dest="command", title="commands", metavar="COMMAND")

    check = commands.add_parser("check", help="name every fault of protocol or chemistry files")
    check.add_argument("files", nargs="+", type=Path, metavar="FILE", help="TOML files")
    check.set_defaults(run=run_check)

    rehearse = commands.add_parser("rehearse", help="a shift by a simulated technician on a simulated clock")
    rehearse.add_argument("--scopes", type=count(1, 200), default=6, metavar="N", help="how many scopes (6)")
    rehearse.add_argument("--hours", type=number(0.1, 168), default=8, metavar="H", help="how long (8)")
    rehearse.add_argument("--seed", type=count(0, 2**63), default=1, metavar="S", help="same seed, same record (1)")
    rehearse.add_argument("--out", type=Path, metavar="DIR", help="leave the record and the week's export here")
    rehearse.add_argument("--pace", type=pace, default=None, metavar="max|60", help="max, or so many times real time")
    rehearse.set_defaults(run=run_rehearse)

    replay = commands.add_parser("replay", help="give a file of commands with times to the door")
    replay.add_argument("file", type=Path, metavar="FILE.jsonl", help="one JSON object a line, see the README")
    replay.add_argument("--out", type=Path, metavar="DIR", help="leave the record here; without it nothing is kept")
    replay.set_defaults(run=run_replay)

    export = commands.add_parser("export", help="write a week's cycles and events as CSV")
    export.add_argument("--week", required=True, metavar="2026-W48", help="ISO week")
    export.add_argument("--to", required=True, type=Path, metavar="DIR", help="folder to write into")
    export.set_defaults(run=run_export)

    verify = commands.add_parser("verify", help="hold the record against itself, its ledger and its exports")
    verify.add_argument("path", nargs="?", type=Path, metavar="PATH", help="a home, a rehearsal's --out, or an export")
    verify.add_argument("--chain", action="store_true", help="only the chain of lines, several times faster")
    verify.set_defaults(run=run_verify)
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

    plan = Plan(options.scopes, options.hours, options.seed)
    with new_home(options.out) if options.out else memory(MemoryDisk()) as disk:
        door, tally = rehearse(disk, plan, print, paced(options.pace))
        print("\n".join(tally.lines()))
        if options.out:
            for line in leave_weeks(disk, door.journal, options.out):
                print(line)
    return FINE


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


def run_export(options):
    from data.leaving import export_home

    home = options.home or default_home()
    if not (home / "journal").is_dir():
        return wrong_use(f"{home} holds no record; name its folder with --home")
    print(export_home(home, options.week, options.to))
    return FINE


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
    print(
        "The screens are not there yet. Try: python3 main.py rehearse (a shift by a simulated technician), "
        "or python3 main.py --help."
    )
    return FINE


def main(arguments=None):
    """Promise the exit code of one call of the command line."""
    from protocols.errors import BasinbellError, Defect

    options = parser().parse_args(arguments)
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
