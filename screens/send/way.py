"""The way out of the handheld: where weeks go, with which name and password, signed by whom, who else sends there.

Names and passwords live in this object and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable

from data.destinations import Credentials, Destination
from data.disk import Disk
from data.others import Other, Unread, others
from data.send_place import Place, keep_others_from, keep_place, others_from, place_of
from data.signing import Signer, signer_of
from protocols.errors import BasinbellError

Make = Callable[[str, Credentials, str], Destination]


class Way:
    """The place that weeks of one record go to; `make` gives the destination of an address."""

    def __init__(self, disk: Disk, make: Make) -> None:
        self._disk, self.make = disk, make
        self.place: Place = place_of(disk)
        # The folder in which other handhelds are looked for; "" for where weeks go.
        self.seen_from = others_from(disk)
        self.credentials = Credentials()
        self._signer: Signer | None = None
        self._label_of: tuple[Place, str] = (Place(), "")

    def lead_to(self, place: Place, credentials: Credentials | None = None) -> None:
        """Lead there from now on; another address forgets the name and password of the last.

        Raises CommandFault for an address that can be none, or DiskError.
        """
        self.make(place.to, Credentials(), place.certificates).close()
        keep_place(self._disk, place)
        changed = place.to != self.place.to
        self.place = place
        if credentials is not None or changed:
            self.credentials = credentials or Credentials()

    def opening(self) -> Callable[[], Destination]:
        """Promise what opens the place that weeks go to now, with the name and password given; whoever opens closes it.

        For a thread of its own: another place that is chosen meanwhile does not change where that leads.
        """
        place, credentials = self.place, self.credentials
        return lambda: self.make(place.to, credentials, place.certificates)

    def label(self) -> str:
        """Promise the place's name in receipts. Raises BasinbellError, as for certificates that have gone."""
        # Making a destination reads all trusted certificates: once a place is enough for its name.
        if self._label_of[0] != self.place:
            made = self.make(self.place.to, Credentials(), self.place.certificates)
            self._label_of = (self.place, made.label)
            made.close()
        return self._label_of[1]

    def signer(self) -> Signer:
        """Promise the handheld's signer. Raises as `signer_of`."""
        self._signer = self._signer or signer_of(self._disk)
        return self._signer

    def see_others_from(self, folder: str) -> None:
        """Look for other handhelds in that folder from now on, "" for where weeks go. Raises DiskError."""
        keep_others_from(self._disk, folder)
        self.seen_from = folder

    def others(self, known: list[Other | Unread], refused: bool) -> Callable[[], list[Other | Unread]] | None:
        """Promise a look at the unit's other handhelds, for a thread of its own; None where there is no place for it.

        What is `known` already is not read again; `refused` says that the place wants another name or password.
        """
        folder = self.seen_from
        place = Place(folder) if folder else self.place
        if not place.to or (refused and not folder):
            return None
        credentials = Credentials() if folder else self.credentials
        try:
            own = self.signer().public
        except BasinbellError:
            return None

        def look() -> list[Other | Unread]:
            there = self.make(place.to, credentials, place.certificates)
            try:
                return others(there, own, known)
            finally:
                there.close()

        return look
