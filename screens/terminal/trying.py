"""Commands that make a record of their own: rehearse and replay."""

import json
import sys
from pathlib import Path

from screens.terminal.homes import FINDING, FINE, memory, new_home, wrong_use
from screens.terminal.values import count, number, pace


def add_rehearse(commands):
    """Add `rehearse`, a shift by a simulated technician."""
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


def run_rehearse(options):
    from data.memory_disk import MemoryDisk
    from data.rehearse.leaving import leave_weeks
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


def add_replay(commands):
    """Add `replay`, which gives a file of commands to the door."""
    replay = commands.add_parser("replay", help="give a file of commands with times to the door")
    replay.add_argument("file", type=Path, metavar="FILE.jsonl", help="one JSON object a line, see the README")
    replay.add_argument("--out", type=Path, metavar="DIR", help="leave the record here; without it nothing is kept")
    replay.set_defaults(run=run_replay)


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
