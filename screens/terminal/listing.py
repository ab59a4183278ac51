"""The whole command line: every command is registered here, in the order in which help lists them."""

import argparse
from pathlib import Path

from screens.terminal.checking import add_check, add_dilute, add_plan
from screens.terminal.handing import add_hand_over, add_pair, add_take_over
from screens.terminal.importing import add_import
from screens.terminal.leaving import add_export, add_gather, add_key, add_send
from screens.terminal.looking import add_trace, add_verify, add_week
from screens.terminal.purging import add_purge
from screens.terminal.scopes import add_scopes
from screens.terminal.trying import add_rehearse, add_replay

# A command is a function that adds its own parser and names what runs it. Its imports stand inside what runs it, so
# that one command, or the app, never waits for what another needs.
COMMANDS = (
    add_check,
    add_rehearse,
    add_replay,
    add_plan,
    add_import,
    add_export,
    add_send,
    add_key,
    add_gather,
    add_purge,
    add_verify,
    add_trace,
    add_week,
    add_dilute,
    add_scopes,
    add_pair,
    add_hand_over,
    add_take_over,
)

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
  python3 main.py --home trial hand-over B2 --to hh-b --by ann --file b2.offer
  python3 main.py --home trial trace --bath H1     every cycle and event that touched a bath
  python3 main.py --home trial week 2026-W48       a week's figures, and which of them are a real change
"""


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
    for add in COMMANDS:
        add(commands)
    return top
