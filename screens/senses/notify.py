"""Notify promises to leave a notice for when the app is not in front, or to say why it cannot."""

from __future__ import annotations

from typing import Protocol

from screens.senses.promise import LEVELS, YES, Can, Level, attempt, no
from screens.senses.worker import Worker


class Board(Protocol):
    """Where one platform puts its notices; `post` may block."""

    def can(self) -> Can:
        """Say, without blocking, whether notices are taken."""
        ...

    def post(self, title: str, words: str, number: int) -> Can:
        """Put up a notice in place of an earlier one of the same number."""
        ...


def board_for(system: str) -> Board:
    """Give the notice board of a system, named as Kivy names it."""
    if system == "android":
        from screens.senses.notify_android import AndroidBoard

        return AndroidBoard()
    from screens.senses.notify_desktop import DesktopBoard

    return DesktopBoard()


class Notify:
    """Posts notices off the screen's thread; `on` is the person's switch."""

    def __init__(self, board: Board, on: bool = True) -> None:
        """Take the notice board of this platform."""
        self._board = board
        self._worker = Worker("notices", most=16)
        self._numbers: dict[str, int] = {}
        self._last = YES
        self.on = on

    def can(self) -> Can:
        """Say whether the device takes notices and whether it took the last one."""
        if not self.on:
            return no("off")
        answer = attempt("asking for notices", self._board.can, why="no_notices")
        return answer if not answer else self._last

    def post(self, key: str, title: str, words: str, level: Level) -> Can:
        """Hand a notice over and return at once; a later one of the same key takes its place."""
        answer = self.can()
        if answer or answer == self._last:
            number = self._numbers.setdefault(key, len(self._numbers) + 1)
            self._worker.submit(key, LEVELS.index(level), lambda: self._post(title, words, number))
        return answer

    def _post(self, title: str, words: str, number: int) -> None:
        self._last = attempt("posting a notice", lambda: self._board.post(title, words, number))

    def close(self) -> None:
        """Post nothing more."""
        self._worker.close()
