"""Lets the person pick a folder with Android's own page for that, and keeps the leave to use it. Not run yet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from screens.senses import bridge
from screens.senses.promise import YES, Can, attempt

Post = Callable[[Callable[[], None]], None]
_CODE = 7001  # any number that tells our question from another's
_RESULT_OK = -1  # Activity.RESULT_OK
_READ_WRITE = 1 | 2  # Intent.FLAG_GRANT_READ_URI_PERMISSION, FLAG_GRANT_WRITE_URI_PERMISSION
_KEPT = 64 | 128  # Intent.FLAG_GRANT_PERSISTABLE_URI_PERMISSION, FLAG_GRANT_PREFIX_URI_PERMISSION


class FolderPicker:
    """Asks for one folder at a time; `post` brings the answer to the screen's thread."""

    def __init__(self, post: Post) -> None:
        self._post = post
        self._then: Callable[[str], None] | None = None
        self._bound = False

    def pick(self, then: Callable[[str], None]) -> Can:
        """Open the system's page; `then` gets the folder's address, or nothing comes when the person goes back."""
        self._then = then
        return attempt("asking for a folder", self._ask, why="no_picker")

    def _ask(self) -> Can:
        if not self._bound:
            from android import activity  # python-for-android's own, there on Android only

            activity.bind(on_activity_result=self._answered)
            self._bound = True
        intent = bridge.java("android.content.Intent")("android.intent.action.OPEN_DOCUMENT_TREE")
        intent.addFlags(_READ_WRITE | _KEPT)
        bridge.activity().startActivityForResult(intent, _CODE)
        return YES

    def _answered(self, code: int, result: int, data: Any) -> None:
        if code != _CODE:
            return  # of another question
        then, self._then = self._then, None
        if result != _RESULT_OK or data is None or then is None:
            return
        address = data.getData()

        def keep() -> Can:
            bridge.activity().getContentResolver().takePersistableUriPermission(address, _READ_WRITE)
            return YES

        attempt("keeping the leave to use a folder", keep)
        self._post(lambda: then(str(address.toString())))
