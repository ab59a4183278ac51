"""Commands that touch no record: check, plan and dilute."""

import json
from pathlib import Path

from screens.terminal.homes import FINDING, FINE, named_file


def add_check(commands):
    """Add `check`, which names every fault of protocol or chemistry files."""
    check = commands.add_parser("check", help="name every fault of protocol or chemistry files")
    check.add_argument("files", nargs="+", type=Path, metavar="FILE", help="TOML files")
    check.set_defaults(run=run_check)


def run_check(options):
    from data.checking import check_file

    found = False
    for path in options.files:
        text = named_file(path)
        findings, what = check_file(text, str(path))
        for finding in findings:
            print(finding)
        if not findings:
            print(f"{path}: {what}, no faults")
        found = found or bool(findings)
    return FINDING if found else FINE


def add_plan(commands):
    """Add `plan`, which answers a planning problem."""
    plan = commands.add_parser("plan", help="who does what when, with scarce hands and limits; an answer as JSON")
    plan.add_argument("file", type=Path, metavar="FILE.json", help="tasks, lags and capacity, see the README")
    plan.set_defaults(run=run_plan)


def run_plan(options):
    import time

    from data.planning import answer

    text = named_file(options.file)
    start = time.monotonic()
    print(json.dumps(answer(text, lambda: time.monotonic() - start), ensure_ascii=False))
    return FINE


def add_dilute(commands):
    """Add `dilute`, which says how much water goes to how much stock."""
    dilute = commands.add_parser("dilute", help="how much water to how much stock, with the units checked")
    dilute.add_argument("--stock", required=True, metavar="5%", help="strength of the stock: %%, ppm, mg/L, g/L")
    dilute.add_argument("--target", required=True, metavar="0.1%", help="strength wanted")
    dilute.add_argument("--make", metavar="10L", help="volume wanted: mL, L, gal, fl oz")
    dilute.add_argument("--powder", action="store_true", help="the stock is a powder: grams to a litre")
    dilute.set_defaults(run=run_dilute)


def run_dilute(options):
    from protocols.dilution import recipe

    print(recipe(options.stock, options.target, options.make or "", options.powder))
    return FINE
