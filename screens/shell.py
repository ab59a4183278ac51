"""The shell: one page at a time over the tabs, every answer to a tap in words, and one look at the clock a second.

Nothing here decides anything about a scope. A command goes from a page through `give` to the desk and its door; only
what the door made durable is shown as done. Back never gives a command and never loses a half-typed value unasked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from protocols.chunks import is_chunk
from protocols.clock import Stamp
from protocols.errors import ClockError, DiskError
from protocols.lane import Lane
from protocols.prompts import Prompt
from protocols.unit import Person
from protocols.whereabouts import late_in
from screens import taps
from screens.desk import Desk, Told
from screens.finding import find
from screens.offer import Choice, Typed
from screens.page import Page
from screens.paged import HOME, Paged
from screens.scanner import Scanner
from screens.senses.alarms import Alarms
from screens.senses.choose import Senses
from screens.senses.promise import Can
from screens.taps import Then, in_hand
from screens.words import say

if TYPE_CHECKING:
    from screens.planning import Planning

Maker = Callable[["Shell"], Page]


def _raise(error: Exception) -> None:
    raise error


class Shell(Paged):
    """The root of the app; `makers` and `tabs` as for `Paged`. `lanes` holds every lane as of the last look."""

    def __init__(self, desk: Desk, makers: Mapping[str, Maker], tabs: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(makers, tabs, **kwargs)
        self.desk = desk
        # What the last look at the clock found, for everything that is shown or called by it.
        self.seen: Stamp | None = None
        self.prompts: list[Prompt] = []
        self.lanes: list[Lane] = []
        # Called with the shell once a second, whatever page is shown: the senses, the witness.
        self.on_beat: list[Callable[[Shell], None]] = []
        # The planner of the app; None where nothing plans (pages then show what they know without one).
        self.planning: Planning | None = None
        # Gives each sense that can't work now with the id of the reason; the app puts the real one here.
        self.failing: Callable[[], list[tuple[str, str]]] = list
        # The alarms of a system that needs them; None where the app calls by itself whether in front or not.
        self.alarms: Alarms | None = None
        # Lets the person pick a folder with the system's own page, where files can't be reached by typing a path.
        self.pick_folder: Callable[[Callable[[str], None]], Can] | None = None
        # The senses, to be tried out in Setup; None where there are none.
        self.senses: Senses | None = None
        # Begins practice at a pace; None where that can't be, as within practice.
        self.practise: Callable[[int], None] | None = None
        # Hears what fails in a look at the clock; the app says so and goes on, a shell by itself fails by it.
        self.look_failed: Callable[[Exception], None] = _raise
        # Called after every look, whatever page is shown: the trainer of practice.
        self.on_look: list[Callable[[], None]] = []
        self.scanner = Scanner(self.scanned)
        self.scanner.back = self.back
        self._window: Any = None
        self._tab_count = 0

    def on_parent(self, _: Any, parent: Any) -> None:
        """Take keys, and text from a scanner, from the window the shell is in, and only while it is in one."""
        for name, take in (("on_keyboard", self.scanner.key), ("on_textinput", self.scanner.typed)):
            if self._window is not None:
                self._window.unbind(**{name: take})
            if parent is not None:
                parent.bind(**{name: take})
        self._window = parent

    def land(self) -> None:
        """Show the page that a start opens: the scope that was in hand a moment ago, else the Bench.

        Which scope that was, and where it stands, the record says; so a kill and a new start land where it was.
        """
        self.see()
        self.go(HOME)
        tag = in_hand(self.lanes, self.desk.now())
        if tag:
            self.go("steps", tag=tag)
        if not self.desk.by and self.desk.unit.people:
            taps.ask_who(self)

    # --- once a second

    def tick(self, *_: Any) -> None:
        """Ask the clock, look at everything, show it: called once a second and never counted."""
        for part in (type(self).look, type(self)._lock_if_idle, *self.on_beat):
            # One that fails must not keep the others from what they do, least of all the calls.
            try:
                part(self)
            except Exception as error:
                self.look_failed(error)

    def _lock_if_idle(self) -> None:
        # Takes the name away and nothing else: the page stays, coils and prompts go on.
        try:
            if self.desk.lock_if_idle():
                self.tell(Told(False, say("lock.locked"), say("lock.remedy"), "locked"))
        except ClockError as error:
            self.tell(Told(False, say("told.clock", why=error), rule="clock"))

    def see(self) -> None:
        """Ask the clock and work out what is due and how every scope stands, once for all. Raises ClockError."""
        self.seen = None  # stays so where the clock is in doubt
        now = self.desk.now()
        self.prompts = self.desk.prompts(now)
        self.lanes = self.desk.lanes(now, self.prompts)
        self.seen = now

    def look(self) -> None:
        """Refresh the page shown, the count in the tab of the Watch, and the strip."""
        try:
            self.see()
            if self.planning is not None:
                self.planning.look()
            if self.seen is not None:
                self.strip.look(self.seen)
            for page in self._room.pages:
                self._refresh(page)
        except ClockError as error:
            self.tell(Told(False, say("told.clock", why=error), rule="clock"))
        count = self.desk.troubles(self.lanes) + self._late_in()
        if count != self._tab_count:
            self._tab_count = count
            self.tabs.set_words("watch", say("tab.watch_count", count=count) if count else say("tab.watch"))
        for heard in self.on_look:
            heard()

    def _refresh(self, page: Page) -> None:
        """Show a page as of now. One that can't read what it shows says so, and stops nothing else: prompts go on."""
        try:
            page.refresh()
        except DiskError as error:
            self._unread(error)
        except ClockError:
            raise
        except Exception as error:
            self.look_failed(error)

    def enter(self, page: Page, what: Mapping[str, Any]) -> None:
        """Let a page take up what it is to show."""
        try:
            page.entered(**what)
        except DiskError as error:
            self._unread(error)

    def _unread(self, error: DiskError) -> None:
        self.tell(Told(False, say("told.unread", why=error), rule="unread"))

    def _late_in(self) -> int:
        """Count the scopes that are past the limit of their delay and have not come in."""
        try:
            return len(late_in(self.desk.unit, self.desk.now()))
        except ClockError:
            return 0

    def lane(self, tag: str) -> Lane | None:
        """Give the lane of a scope as of the last look, or None."""
        return next((lane for lane in self.lanes if lane.scope == tag), None)

    # --- commands

    def give(
        self,
        do: str,
        subject: str,
        values: Mapping[str, Any] | None = None,
        after: int | None = None,
        by: str = "",
    ) -> Told:
        """Give one command and show its answer; what was refused or not recorded is said in plain words."""
        told = self.desk.give(do, subject, values, after, by)
        self.tell(told)
        self.look()
        return told

    def choose(self, choice: Choice, after: int | None = None, then: Then | None = None) -> None:
        """Give the command of a choice, after its confirmation and, for what only a lead may do, by a named lead."""
        taps.choose(self, choice, after, then)

    def type_value(self, typed: Typed, after: int | None = None, then: Then | None = None) -> None:
        """Let a value be typed on the large keys, then give its command with it."""
        taps.type_value(self, typed, after, then)

    def tell(self, told: Told) -> None:
        """Show an answer on the strip: what is not recorded stays until touched, a plain success says nothing."""
        self.strip.tell(told, self.desk)

    def identify(self, person: Person, then: Callable[[Person], None]) -> None:
        """Call `then` with a person once they have shown who they are: by PIN where one is needed."""
        taps.identify(self, person, then)

    def sign_in(self, person: str) -> None:
        """Make a person of the unit the one who gives commands from now on, and ask about unconfirmed acts."""
        told = self.desk.sign_in(person)
        self.tell(told)
        self.look()
        if told.done:
            taps.ask_for_acts(self)

    def on_touch_down(self, touch: Any) -> bool:
        """Note that a hand is on the handheld, whatever it touches."""
        self.desk.touched()
        return bool(super().on_touch_down(touch))

    # --- scans

    def scanned(self, text: str) -> None:
        """Take a scanned text to its place: the page shown, else the page of the scope with that tag."""
        self.desk.touched()
        page = self.page
        if is_chunk(text) and not (page is not None and page.key == "handover"):
            self.go("handover", chunk=text)
            return
        if page is not None and page.scanned(text):
            self.look()
            return
        if page is not None and self._over:
            return  # a question is open: a scan answers nothing
        self.find(text)

    def find(self, text: str) -> None:
        """Go to what a text names (see `screens.finding`), or say that nobody knows it."""
        find(self, text)
