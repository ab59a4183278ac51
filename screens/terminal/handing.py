"""Commands with which two handhelds hand cycles to each other by a file: pair, hand-over, take-over."""

import sys
from contextlib import contextmanager
from pathlib import Path

from screens.terminal.homes import FINDING, FINE, named_file, record_home, wrong_use
from screens.terminal.who import not_shown


def add_pair(commands):
    """Add `pair`, which takes another handheld's key."""
    pair = commands.add_parser("pair", help="take another handheld's name and key, so that cycles can go to and fro")
    pair.add_argument("device", metavar="DEVICE", help="its name, as main.py key shows it there")
    pair.add_argument("key", metavar="KEY", help="its public key, read off that handheld itself")
    pair.add_argument("--by", required=True, metavar="PERSON", help="the lead who answers for it")
    pair.set_defaults(run=run_pair)


def run_pair(options):
    def pair(door, _):
        return _said(_give(door, "pair-handheld", options.device, options.by, public_key=options.key))

    return _with_door(options, "main.py pair", pair)


def add_hand_over(commands):
    """Add `hand-over`, which offers cycles to a paired handheld."""
    hand = commands.add_parser("hand-over", help="offer cycles under way to another handheld, by a file")
    hand.add_argument("tags", nargs="*", metavar="TAG", help="scopes; without any, what was offered is written again")
    hand.add_argument("--to", required=True, metavar="DEVICE", help="the paired handheld that goes on with them")
    hand.add_argument("--by", required=True, metavar="PERSON", help="who hands them over")
    hand.add_argument("--file", required=True, type=Path, metavar="FILE", help="where the offers are written")
    hand.set_defaults(run=run_hand_over)


def run_hand_over(options):
    from data.handover import offers_packet, open_offers
    from data.signing import signer_of

    def hand(door, disk):
        code = FINE
        for tag in options.tags:
            code = max(code, _said(_give(door, "hand-over", tag, options.by, device=options.to)))
        tags = open_offers(door, options.to)
        if not tags:
            print(f"nothing is offered to {options.to}", file=sys.stderr)
            return FINDING
        written = _write(options.file, offers_packet(door, signer_of(disk), tags, True))
        if written == FINE:
            print(f"{options.file}: offers of {', '.join(tags)}; they are frozen here until its answer is taken over")
        return max(code, written)

    return _with_door(options, "main.py hand-over", hand)


def add_take_over(commands):
    """Add `take-over`, which takes another handheld's offers or answers."""
    take = commands.add_parser("take-over", help="take another handheld's offers, or its answers, from a file")
    take.add_argument("file", type=Path, metavar="FILE", help="what the other handheld wrote")
    take.add_argument("--by", required=True, metavar="PERSON", help="who takes over")
    take.add_argument("--decline", action="store_true", help="give every offer back: the sender goes on")
    take.add_argument("--answer", type=Path, metavar="FILE", help="where the answer is written (FILE.answer)")
    take.set_defaults(run=run_take_over)


def run_take_over(options):
    from data.handover import answers_packet, take_packet, to_answer
    from data.signing import signer_of

    content = named_file(options.file)

    def take(door, disk):
        taken = take_packet(door, content, options.by, options.decline)
        code = max((_said(one.answer) for one in taken), default=FINDING)
        answered = to_answer(door, taken)
        if answered:
            file = options.answer or options.file.with_name(f"{options.file.name}.answer")
            written = _write(file, answers_packet(door, signer_of(disk), answered))
            if written == FINE:
                print(f"{file}: the answer; until it is taken over there, both handhelds prompt")
            # What was answered before has its answer again, which is what was wanted.
            return max(written, FINE if len(answered) == len(taken) else code)
        return code

    return _with_door(options, "main.py take-over", take)


def _with_door(options, who, use):
    with _door(options, who) as (door, disk):
        refused = not_shown(door, options.by)
        if refused:
            print(refused, file=sys.stderr)
            return FINDING
        return use(door, disk)


@contextmanager
def _door(options, who):
    from data.opening import owned_door
    from data.real_disk import RealDisk
    from data.system_clock import SystemClock

    disk = RealDisk(record_home(options))
    with owned_door(disk, SystemClock(), who) as (door, _):
        yield door, disk


def _give(door, do, subject, by, **values):
    from protocols.event import Command

    return door.give(Command(do, subject, values, by))


_DONE = {
    "pair-handheld": "{}: paired", "hand-over": "{}: offered", "take-over": "{}: taken over",
    "decline-offer": "{}: given back", "confirm-handover": "{}: its answer is taken",
}  # fmt: skip


def _said(answer):
    """Promise the exit code of an answer, having said it."""
    from protocols.refusals import Refusal

    if isinstance(answer, Refusal):
        print(answer, file=sys.stderr)
        return FINDING
    print("; ".join([_DONE[answer.kind].format(answer.subject), *answer.data.get("notices", ())]))
    return FINE


def _write(file, content):
    try:
        file.write_bytes(content)
    except OSError as error:
        return wrong_use(f"{file} can't be written ({error.strerror}); name another file")
    return FINE
