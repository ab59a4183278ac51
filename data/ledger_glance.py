"""A week's ledger at a glance: its documents without what the list of cycles does not show, nine tenths of the bytes.

The file is canonical JSON (`data.ledger_storage`), its hash is checked as ever, and the members of a document stand in
the order of their names. So stretches of members can be left out by looking for the name at which each begins and the
one that follows it, and only what is left is read as JSON. A quote within a text is escaped, so what is found is a
member; whether it is one of the document itself shows in what is left: a stretch that began or ended deeper leaves
braces without their peers. Anything unexpected gives None, and the week is read whole.
"""

from __future__ import annotations

import json
from typing import Any

# Where a stretch that is left out begins, and the member after it, in the order in which they stand. Only a cycle from
# another handheld has a member between the first two.
_LEFT_OUT = (
    (b',"brushing":', b',"case":'),
    (b',"cleaning":', b',"cycle":'),
    (b',"delay":', b',"ended_seq":'),
    (b',"events":[', b',"flushes":['),
    (b',"flushes":[', b',"lates":'),
    (b',"leak_tests":', b',"outcome":{'),
    (b',"preclean":', b',"received":'),
    (b',"restarts":', b',"scope":'),
    (b',"skips":', b',"v":'),
    (b',"verification":', b',"week":'),
)
_CAME, _EVENTS = b',"came_from":', b',"events":['
_FIRST = _LEFT_OUT[0][0]
_KEPT = frozenset(("alcohol", "baths", "case", "cycle", "ended_seq", "lates", "outcome", "people", "received", "scope",
                   "seq", "v", "week", "wipes"))  # fmt: skip
_MOVED = frozenset(("came_from", "went_to"))


class Glance:
    """One reading of a week: `cut` takes the bytes of its document, `documents` the tables read of what that left."""

    def __init__(self) -> None:
        self._events: list[bytes] = []

    def cut(self, body: bytes) -> bytes:
        """Promise the bytes without what is left out; where they are not as expected, some that `documents` refuses."""
        parts, at = [], 0
        while (start := body.find(_FIRST, at)) >= 0:
            for begins, follows in _LEFT_OUT:
                start = body.find(begins, at)
                end = body.find(follows, start + 1)
                if start < 0 or end < 0:
                    return body
                if begins == _FIRST and (came := body.find(_CAME, start, end)) >= 0:
                    end = came
                parts.append(body[at:start])
                if begins == _EVENTS:
                    self._events.append(body[start + len(_EVENTS) - 1 : end])
                at = end
        parts.append(body[at:])
        return b"".join(parts)

    def documents(self, table: dict[str, dict[str, Any]]) -> list[dict[str, Any]] | None:
        """Promise the documents in the order of the file, None where any of them is not of the form expected here.

        Those that came from another handheld have their `events`: who gave them can't be told from other members.
        """
        found = list(table.values())
        if len(found) != len(self._events):
            return None
        for document, events in zip(found, self._events, strict=True):
            if document.keys() - _MOVED != _KEPT:
                return None
            if "came_from" in document:
                document["events"] = json.loads(events)
        return found


def people(document: dict[str, Any]) -> list[str]:
    """Promise who gave the commands of a cycle on this handheld, by a document read whole or at a glance."""
    if "events" in document:
        return sorted({event["by"] for event in document["events"]})
    return sorted(document["people"]["names"])
