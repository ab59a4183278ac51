"""The Send page over a destination whose door can be shut, for tests that send.

Import it after the harness, which sets the environment before anything imports Kivy.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import harness
from lead_scene import Scene, Shown, two_cycles

from data.destinations import Credentials, FolderDestination
from protocols.errors import CommandFault

Opener = Callable[..., harness.Screen]
WEEK, NEXT_WEEK = "2026-W48", "2026-W49"
SERVER, STICK = "https://files.alder-row.example/q", "/media/stick"


class Faulty:
    """A folder behind a door that can be shut: `fault` is raised by the operation of that name, or by all for "*"."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.fault: dict[str, Exception] = {}
        self.wait: threading.Event | None = None
        self.seen: list[tuple[str, str]] = []
        self.given: list[tuple[str, Credentials, str]] = []

    def make(self, to: str, credentials: Credentials, certificates: str) -> Any:
        if "://" in to and not to.startswith("https://"):
            raise CommandFault(f"{to} is no way to send")
        self.given.append((to, credentials, certificates))
        return self

    @property
    def label(self) -> str:
        return self.given[-1][0]

    def close(self) -> None:
        pass

    def __getattr__(self, name: str) -> Any:
        place = FolderDestination(self.root)

        def asked(path: str, *more: Any) -> Any:
            self.seen.append((name, path))
            if self.wait is not None:
                self.wait.wait(20)
            fault = self.fault.get(name) or self.fault.get("*")
            if fault is not None:
                raise fault
            return getattr(place, name)(path, *more)

        return asked

    @property
    def writes(self) -> int:
        return sum(1 for name, _ in self.seen if name == "write")


def sending_shown(
    open_screen: Opener, tmp_path: Path, scene: Scene | None = None, *size: float
) -> tuple[Shown, Faulty]:
    shown = Shown(open_screen(*(size or (412, 892))), scene or two_cycles(), "send")
    (tmp_path / "stick").mkdir(exist_ok=True)
    place = Faulty(tmp_path / "stick")
    shown.sending.way.make = place.make
    return shown, place


def beat(shown: Shown, after_s: float = 0.0) -> None:
    """Let time pass, give the app's own timer its turn, and let a round run to its end."""
    shown.scene.wait(after_s)
    shown.sending.beat(shown.scene.desk.now())
    finish(shown)


def finish(shown: Shown) -> None:
    for _ in range(50):
        shown.sending.background.finish()
        shown.screen.frames(2)
        if not shown.sending.busy:
            break
    assert not shown.sending.busy
    shown.shell.look()
    shown.screen.frames(3)


def said(shown: Shown) -> str:
    return " | ".join(shown.all_texts())
