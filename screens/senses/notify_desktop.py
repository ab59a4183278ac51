"""Notices on a desktop system: the notify-send program, where there is a session to show them in."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Mapping

from screens.senses.promise import YES, Can, no

LONGEST_S = 5.0


class DesktopBoard:
    """Posts through notify-send."""

    def __init__(
        self,
        find: Callable[[str], str | None] = shutil.which,
        run: Callable[..., object] = subprocess.run,
        environment: Mapping[str, str] = os.environ,
    ) -> None:
        """Take how a program is found and run, and the environment that names the session."""
        self._run = run
        self._program = find("notify-send")
        self._session = bool(environment.get("DBUS_SESSION_BUS_ADDRESS"))

    def can(self) -> Can:
        """Say whether there is a program and a session for notices."""
        return YES if self._program and self._session else no("no_notices")

    def post(self, title: str, words: str, number: int) -> Can:
        """Show a notice; raises what running the program raises. Each stands alone: no number is used."""
        if not self._program:
            return no("no_notices")
        self._run(
            [self._program, "--app-name=Basinbell", "--urgency=critical", "--", title, words],
            check=True,
            timeout=LONGEST_S,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        return YES
