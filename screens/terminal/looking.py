"""Commands that read a record and change nothing: verify, trace and week."""

import sys
from pathlib import Path

from data.place import home_folder
from screens.terminal.homes import FINDING, FINE, mark_practice, record_home, wrong_use
from screens.terminal.values import day


def add_verify(commands):
    """Add `verify`, which holds a record against itself, its ledger and its exports."""
    verify = commands.add_parser("verify", help="hold the record against itself, its ledger and its exports")
    verify.add_argument("path", nargs="?", type=Path, metavar="PATH", help="a home, a rehearsal's --out, or an export")
    verify.add_argument("--chain", action="store_true", help="only the chain of lines, several times faster")
    verify.set_defaults(run=run_verify)


def run_verify(options):
    from data.audit import exports_in, is_home, verify_exports, verify_home
    from protocols.numerals import counted

    path = options.path or options.home or home_folder()
    mark_practice(path)
    exports = exports_in(path)
    if is_home(path):
        audit = verify_home(path, chain_only=options.chain)
    elif not exports:
        return wrong_use(f"{path} holds neither a record nor an export; name a home folder or an exported week")
    else:
        inside = exports[0].resolve().parent.parent
        home = options.home or (inside if is_home(inside) else None)
        audit = verify_home(home, exports, options.chain) if home else None
    if audit:
        audit.tell = _progress("holding the record against itself")
    found = 0
    for difference in audit.differences() if audit else verify_exports(exports):
        print(difference)
        found += 1
    looked_at = audit.summary() if audit else f"{counted(len(exports), 'export')} without their journal"
    print(f"{path}: {looked_at}; " + (counted(found, "difference") if found else "nothing differs"))
    return FINDING if found else FINE


def add_trace(commands):
    """Add `trace`, which looks back."""
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


def _progress(what="reading the record for the look-back"):
    """Say on standard error how far work on a long record has come, once a second."""
    from time import monotonic

    told = monotonic()

    def progress(at, of):
        nonlocal told
        if monotonic() - told >= 1:
            told = monotonic()
            print(f"{what}, week {at + 1} of {of}", file=sys.stderr)
        return True

    return progress


def run_trace(options):
    from data import trace_text
    from data.trace import trace
    from data.trace_index import KINDS

    home = record_home(options)
    mark_practice(home, options.csv)
    kind = next(name for name in KINDS if getattr(options, name) is not None)
    found = trace(home, kind, getattr(options, kind), options.since, _progress())
    print("\n".join(trace_text.lines(found)))
    if options.csv:
        from data.exporters.csv_trace import csv_bytes

        try:
            options.csv.write_bytes(csv_bytes(found))
        except OSError as error:
            return wrong_use(f"{options.csv} can't be written ({error.strerror}); name another file")
    return FINE if found.cycles or found.others else FINDING


def add_week(commands):
    """Add `week`, which shows a week's figures."""
    week = commands.add_parser("week", help="a week's figures, and which of them are a real change")
    week.add_argument("week", metavar="2026-W48", help="ISO week")
    week.add_argument("--csv", type=Path, metavar="FILE", help="write every figure and chart point as CSV")
    week.set_defaults(run=run_week)


def run_week(options):
    from data import week_text
    from data.beside import beside
    from data.week import week_figures

    home = record_home(options)
    mark_practice(home, options.csv)
    record = beside(home)
    figures = week_figures(record.disk, record, options.week)
    print("\n".join(week_text.lines(figures)))
    if options.csv:
        try:
            options.csv.write_bytes(week_text.csv_bytes(figures))
        except OSError as error:
            return wrong_use(f"{options.csv} can't be written ({error.strerror}); name another file")
    return FINE
