"""Where a scanned or typed text leads: to the page of what it names, or to words that say that nobody knows it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from protocols.case_reference import fits
from protocols.labels import SEPARATOR, LabelFault
from screens.desk import Told
from screens.shown import in_words
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell


def find(shell: Shell, text: str) -> None:
    """Go to what a text names.

    A badge is its person; a tag, or the serial number on a scope's label, is the scope: its steps while it is in a
    cycle, else its receipt; a case reference is the scope under way for it, else, where the unit has a form for it, its
    cycles in the Ledger; a bath is the Watch, bottles of strips and containers are their lists.
    """
    desk, unit = shell.desk, shell.desk.unit
    holder = desk.by_badge(text)
    if holder is not None:
        shell.identify(holder, lambda person: shell.sign_in(person.id))
        return
    try:
        tag = desk.scope_of(text)
    except LabelFault as fault:
        shell.tell(Told(False, in_words(fault.args[0]), rule="label-unread"))
        return
    tag = tag or next((lane.scope for lane in shell.lanes if _same(lane.cycle.case, text)), "")
    if tag in unit.cycles:
        shell.go("steps", tag=tag)
    elif tag:
        shell.go("receive", tag=tag)
    elif _known(text, unit.baths):
        shell.go("watch")
    elif _known(text, unit.strips):
        shell.go("setup-strips")
    elif _known(text, unit.containers):
        shell.go("setup-containers")
    elif unit.settings.case_pattern and fits(unit.settings.case_pattern, text):
        shell.go("ledger", case=text)
    else:
        shown = text.replace(SEPARATOR, " ")
        shell.tell(Told(False, say("find.unknown", text=shown), say("find.unknown.remedy"), "unknown-tag"))


def _known(text: str, names: Iterable[str]) -> bool:
    return any(_same(name, text) for name in names)


def _same(one: str, other: str) -> bool:
    return bool(one) and one.casefold() == other.casefold()
