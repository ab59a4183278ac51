"""The unit's name and time zone, whether PINs are required, the idle lock, the form of a case reference."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import available_timezones

from screens.desk import Told
from screens.heading import Head
from screens.page import Page
from screens.setup.choosing import ChoosePage, Option
from screens.setup.people import spelled
from screens.widgets.button import BigButton
from screens.widgets.leaves import Leaves
from screens.words import say

if TYPE_CHECKING:
    from screens.shell import Shell

# What planning goes by, in the order of the page.
ROOM = ("hands", "clean_hands", "change_s", "sinks", "ports", "bath_holds")
# More than this many fit no list that anybody reads; the person types one letter more.
_MOST = 40


@lru_cache(maxsize=1)
def _zones() -> tuple[str, ...]:
    # Zones of the form Area/City are the ones for people; the others are old names and fixed offsets.
    outside = ("Etc/", "SystemV/", "US/", "posix/", "right/")
    return (*sorted(z for z in available_timezones() if "/" in z and not z.startswith(outside)), "UTC")


def zones_like(text: str) -> list[str]:
    """Promise the IANA time zones whose city starts with the text, whatever its capitals, spaces and hyphens."""
    start = _plain(text)
    return [zone for zone in _zones() if _plain(zone.rsplit("/", 1)[-1]).startswith(start)][:_MOST]


def _plain(text: str) -> str:
    return text.casefold().replace(" ", "").replace("_", "").replace("-", "")


class UnitPage(Page):
    """Name, time zone and what is asked of people, each a row that is pressed to change it, by an administrator."""

    key = "setup-unit"
    tab = "setup"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._name = BigButton("", small=True, look="plain")
        self._name.bind(on_command=lambda *_: self._ask_name())
        self._zone = BigButton("", small=True, look="plain")
        self._zone.bind(on_command=lambda *_: self._ask_city())
        self._pins = BigButton("", small=True, look="plain")
        self._pins.bind(on_command=lambda *_: self._give("pins_required", not self.desk.unit.settings.pins_required))
        self._lock = BigButton("", small=True, look="plain")
        self._lock.bind(on_command=lambda *_: self._ask_lock())
        self._case = BigButton("", small=True, look="plain")
        self._case.bind(on_command=lambda *_: self._ask_case())
        leaves = Leaves()
        self._room = {name: self._room_row(name) for name in ROOM}
        leaves.show([self._name, self._zone, self._pins, self._lock, self._case, *self._room.values()])
        self.add_widget(Head(say("setup.unit"), back=shell.back))
        self.add_widget(leaves)

    def refresh(self) -> None:
        """Show what is set."""
        settings = self.desk.unit.settings
        self._name.set_words(say("unit.name"), settings.name)
        self._zone.set_words(say("unit.zone"), settings.zone)
        self._pins.set_words(say("unit.pins"), say("unit.pins.on" if settings.pins_required else "unit.pins.off"))
        minutes = settings.lock_after_s / 60
        after = say("unit.lock.after", minutes=minutes) if minutes else say("unit.lock.never")
        self._lock.set_words(say("unit.lock"), after)
        self._case.set_words(say("unit.case"), settings.case_pattern or say("unit.case.any"))

        for name, row in self._room.items():
            value = getattr(settings, name)
            shown = say("unit.minutes", minutes=value / 60) if name == "change_s" else f"{value:g}"
            row.set_words(say(f"unit.{name}"), shown)

    def _room_row(self, name: str) -> BigButton:
        """A row for one figure that planning goes by."""
        row = BigButton("", small=True, look="plain")
        kind = "minutes" if name == "change_s" else "number"
        row.bind(on_command=lambda *_: self.shell.ask_text(say(f"unit.{name}"), kind, lambda x: self._give(name, x)))
        return row

    def _ask_name(self) -> None:
        self.shell.ask_text(say("unit.name"), "text", lambda text: self._give("name", spelled(text)))

    def _ask_city(self) -> None:
        self.shell.ask_text(say("unit.zone.ask"), "name", self._pick)

    def _pick(self, text: str) -> None:
        found = zones_like(text)
        if not found:
            self.shell.tell(Told(False, say("unit.zone.none", text=text), say("unit.zone.none.remedy")))
            return
        options = [Option(zone, zone.replace("_", " ")) for zone in found]
        page = ChoosePage(self.shell, say("unit.zone.pick"), options, lambda zone: self._give("zone", zone))
        self.shell.over(page)

    def _ask_lock(self) -> None:
        self.shell.ask_text(say("unit.lock.ask"), "minutes", lambda seconds: self._give("lock_after_s", seconds))

    def _ask_case(self) -> None:
        self.shell.ask_text(say("unit.case.ask"), "tag", lambda form: self._give("case_pattern", form))

    def _give(self, name: str, value: str | float) -> None:
        self.shell.give("set-unit", "unit", {name: value})
