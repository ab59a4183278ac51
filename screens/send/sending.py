"""The app's own rounds of sending: by themselves when the destination is there, or at once when somebody asks.

A week is made and carried on a thread of its own, and its receipt is kept on the screen's thread, where the record is
owned; so no tap and no prompt waits for a stick or a network. Where to is `screens.send.way`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from data.destinations import Credentials, Destination, destination
from data.destinations.errors import ENDS_A_ROUND, CredentialsRefused, DestinationAway, WeekDiffers
from data.disk import Disk
from data.door import Door
from data.receipts import Receipt, Remembered
from data.send import Delivered, deliver, keep, prepare, waiting
from data.send_place import Place
from data.send_progress import Progress
from data.signing import Signer
from protocols.clock import Stamp, longest_s, wall_text
from protocols.errors import BasinbellError, ClockError
from screens.background import Background, Post
from screens.send.state import State
from screens.send.way import Make, Way
from screens.shown import error_words

# How often an absent destination is looked for, and for how long at most one that failed is left alone. Own figures.
LOOK_S, PAUSE_S_MAX = 20.0, 1800.0
# A week still open is sent again by itself only so often: each time all its forms are made anew. Own figure.
OPEN_AGAIN_S = 3600.0


class Sending:
    """Sends the weeks of one record. `now` is the unit's clock; `make` gives the destination of an address."""

    def __init__(self, disk: Disk, door: Door, post: Post, make: Make = destination) -> None:
        self._disk, self._door = disk, door
        self.way = Way(disk, make)
        self.background = Background("send", post)
        self._post = post
        self.state = State()
        self._looked: Stamp | None = None
        self._pause_s = 0.0
        self._opened: Stamp | None = None
        self._round: list[str] = []
        self._asked = False
        # How many weeks have arrived since the app began, wherever: who shows receipts reads them anew by it.
        self.kept = 0
        # What waits and what has arrived, as of a line of the record, a place and what was kept until then.
        self._seen_at: tuple[int, Place, int] | None = None
        self._receipts: list[tuple[str, Receipt]] = []
        # Asked for every week of ten years each time the destination is looked for, between two frames.
        self._arrived = Remembered(disk)
        # Whether the destination was there at a look since it was chosen, or since the app began.
        self.seen = False

    # --- what people change

    def go_to(self, place: Place, credentials: Credentials | None = None) -> None:
        """Send there from now on; raises CommandFault for an address that can be none, or DiskError."""
        self.way.lead_to(place, credentials)
        self.state, self.seen = State(), False
        self._looked, self._opened, self._pause_s = None, None, 0.0

    def trust(self, certificates: str) -> None:
        """Trust only this file of certificates for the server, the system's for ""; raises as `go_to`."""
        self.go_to(Place(self.way.place.to, certificates), self.way.credentials)

    def sign_in(self, credentials: Credentials) -> None:
        """Use this name and password until the app ends or the destination changes."""
        self.way.credentials = credentials
        self.state.asks, self.state.trouble = False, ""
        self._looked, self._pause_s = None, 0.0

    @property
    def busy(self) -> bool:
        """Promise whether a round is under way."""
        return bool(self._round) or self.background.busy

    def send_now(self) -> bool:
        """Start a round with every week that waits, those that failed included; False where none begins."""
        if self.busy or not self.way.place.to:
            return False
        self.state.failed.clear()
        self.state.trouble = ""
        return self._start(self._waiting(), asked=True)

    # --- once a second

    def beat(self, now: Stamp) -> None:
        """Look for the destination from time to time while something waits, and send when it is there."""
        if self.busy or not self.way.place.to or self.state.asks:
            return
        if self._looked is not None and longest_s(self._looked, now) < max(LOOK_S, self._pause_s):
            return
        self._looked = now
        weeks = [week for week in self._waiting() if week not in self.state.failed]
        if not self._open_due(now):
            weeks = weeks[:-1] if weeks and weeks[-1] == self._door.journal.segments()[-1] else weeks
        self._start(weeks, asked=False)

    def _open_due(self, now: Stamp) -> bool:
        # When the destination has just appeared, an open week leaves at once as well.
        return self.state.away or self._opened is None or longest_s(self._opened, now) >= OPEN_AGAIN_S

    def _waiting(self) -> list[str]:
        try:
            self._arrived.begin()
            weeks = waiting(self._disk, self._door.journal, self.way.label(), self._arrived)
        except BasinbellError as error:
            self.state.trouble = error_words(error)
            return []
        self.state.waiting = tuple(weeks)
        return weeks

    def look(self) -> None:
        """Bring what waits and what has arrived up to date, for the page; costs nothing where nothing has changed."""
        now = (self._door.journal.head[0], self.way.place, self.kept)
        if now != self._seen_at and self.way.place.to and not self.busy:
            self._seen_at = now
            self._waiting()
            self._receipts = self._read_receipts()

    def receipts(self) -> list[tuple[str, Receipt]]:
        """Promise the receipt of every week at the present destination, newest first, as far as they can be read."""
        return self._receipts if self.way.place.to else []

    def _read_receipts(self) -> list[tuple[str, Receipt]]:
        found: list[tuple[str, Receipt]] = []
        try:
            label = self.way.label()
        except BasinbellError:
            return found  # such as certificates that have gone: said as the place's trouble
        for week in reversed(self._door.journal.segments()):
            try:
                receipt = self._arrived.last(week, label)
            except BasinbellError:
                continue  # such a week waits, and says why when it is sent
            if receipt is not None:
                found.append((week, receipt))
        return found

    # --- one round: a week after the other

    def _start(self, weeks: list[str], asked: bool) -> bool:
        if not weeks:
            return False
        try:
            self.way.signer()
        except BasinbellError as error:
            self.state.trouble = error_words(error)
            return True
        self._round, self._asked = list(weeks), asked
        self._next()
        return True

    def _next(self) -> None:
        if not self._round:
            self.state.week, self.state.progress = "", None
            self._waiting()
            return
        week, to = self._round[0], self.way.place
        signer, opened = self.way.signer(), self.way.opening()
        self.state.week, self.state.progress = week, None
        self.background.do(lambda: self._carried(week, to, signer, opened), lambda answer: self._came(week, to, answer))

    def _carried(
        self, week: str, to: Place, signer: Signer, opened: Callable[[], Destination]
    ) -> tuple[Delivered, str]:
        """On the thread: is the destination there, then make the week, and carry it; gives the place's name as well."""
        place = opened()
        try:
            # Before a week is made, which costs seconds: an absent stick or server ends it here.
            place.read("basinbell-is-it-there", 1)
            self._post(lambda: self._there(to))
            made = prepare(self._disk, self._door.journal, week, signer, self._tell)
            return deliver(made, place, self._tell), place.label
        finally:
            place.close()

    def _there(self, to: Place) -> None:
        if to == self.way.place:
            self.state.away, self.seen = False, True

    def _tell(self, progress: Progress) -> None:
        self._post(lambda: self._told(progress))

    def _told(self, progress: Progress) -> None:
        if self.state.week == progress.week:
            self.state.progress = progress

    def _came(self, week: str, to: Place, answer: Any) -> None:
        if not isinstance(answer, BasinbellError):
            self.kept += 1
            delivered, label = answer
            try:
                keep(self._disk, delivered, label, self._wall())
            except BasinbellError as error:
                answer = error
        if to != self.way.place:
            # Another place was chosen meanwhile: what came of this one says nothing of that, all weeks go there anew.
            self._round = []
        elif not isinstance(answer, BasinbellError):
            self._pause_s, self.state.trouble = 0.0, ""
            self.state.failed.pop(week, None)
            if week == self._door.journal.segments()[-1]:
                self._opened = self._now()
            self._round = self._round[1:]
        else:
            self._failed(week, answer)
        self._next()

    def _failed(self, week: str, error: BasinbellError) -> None:
        """A destination that fails ends the round; a week that it won't take does not hold up the others."""
        if isinstance(error, ENDS_A_ROUND):
            self.state.away = isinstance(error, DestinationAway)
            self.state.asks = isinstance(error, CredentialsRefused)
            # An absent destination is the ordinary case: it is looked for again soon, and nobody is troubled.
            self.state.trouble = error_words(error) if self._asked or not self.state.away else ""
            self._pause_s = 0.0 if self.state.away else min(PAUSE_S_MAX, max(60.0, 2 * self._pause_s))
            self._round = []
            return
        self.state.failed[week] = error_words(error)
        if not isinstance(error, WeekDiffers):
            self._pause_s = min(PAUSE_S_MAX, max(60.0, 2 * self._pause_s))
        self._round = self._round[1:]

    def _now(self) -> Stamp | None:
        try:
            return self._door.now()
        except ClockError:
            return None

    def _wall(self) -> str:
        now = self._now()
        return wall_text(now.wall_ms if now is not None else 0, self._door.unit.settings.zone)

    def stop(self) -> None:
        """Promise that no further week is begun; what is on its way may be cut off, and goes on at the next start."""
        self._round = []
