"""A form that a label fills in: lot and printed expiry are read from what a scanner sends, or typed."""

from __future__ import annotations

from typing import Any

from protocols.labels import LabelFault
from screens.desk import Told
from screens.setup.form import FormPage
from screens.shown import in_words
from screens.words import say


class LabelForm(FormPage):
    """Its `values` hold the lot and expiry of the label, and as `scan` the label itself while both stand as read."""

    def put(self, name: str, value: Any) -> None:
        """Take a value; a lot may be a whole label that was scanned while the lot was asked for."""
        if name == "lot":
            self.take_label(str(value))
            return
        if name == "expires":
            self.values.pop("scan", None)
        super().put(name, value)

    def scanned(self, text: str) -> bool:
        """A scan gives what stands on the label."""
        self.take_label(text)
        return True

    def take_label(self, text: str) -> None:
        """Fill in what a label says; one that can't be read for certain is said to be so, and changes nothing."""
        try:
            label = self.desk.label(text)
        except LabelFault as fault:
            self.shell.tell(Told(False, in_words(fault.args[0]), rule="label-unread"))
            return
        self.values.pop("scan", None)
        lot, day = label.text or label.lot, label.expires or label.best_before
        if not label.text:
            self.values["scan"] = text
        if lot:
            self.values["lot"] = lot
        if day is not None:
            self.values["expires"] = day.isoformat()
        if not lot and day is None:
            self.shell.tell(Told(False, say("form.label.nothing"), rule="label-unread"))
        self.refresh()
