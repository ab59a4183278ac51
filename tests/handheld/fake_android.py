"""A stand-in of Android in the place of pyjnius: alarms, notices, settings, and what the system does to an app.

Rules are those of Android's reference (developer.android.com, read 2026-11): alarms of type ELAPSED_REALTIME_WAKEUP (2)
count sleep and wake the device; they outlive the process and are lost at a restart; an intent is the same when its
component is, whatever its extras, so a PendingIntent is told from others by class and request code; exact alarms
without the permission raise SecurityException; in deep sleep (Doze) only those "AllowWhileIdle" come at their time.
"""

from __future__ import annotations

import types
from dataclasses import dataclass, field
from typing import Any

from protocols.clock import FakeClock

IMMUTABLE, NO_CREATE, UPDATE = 0x04000000, 0x20000000, 0x08000000
PACKAGE = "org.basinbell.handheld"


class SecurityException(Exception):
    """What Java throws where a permission is missing; pyjnius raises it as JavaException."""


@dataclass
class Intent:
    """An intent: where to, with what."""

    action: str = ""
    component: tuple[str, str] | None = None
    extras: dict[str, Any] = field(default_factory=dict)
    data: str = ""
    flags: int = 0

    def setClassName(self, package: str, name: str) -> None:
        self.component = (package, name)

    def putExtra(self, name: str, value: Any) -> None:
        self.extras[name] = value

    def setData(self, data: str) -> None:
        self.data = data

    def setFlags(self, flags: int) -> None:
        self.flags = flags

    def addFlags(self, flags: int) -> None:
        self.flags |= flags


@dataclass
class Pending:
    """What the system keeps of an intent for later."""

    android: FakeAndroid
    key: tuple[Any, ...]
    extras: dict[str, Any]

    def cancel(self) -> None:
        self.android.pending.pop(self.key, None)


@dataclass(frozen=True)
class Alarm:
    at_ms: int
    pending: Pending
    exact: bool
    while_idle: bool


@dataclass(frozen=True)
class Shown:
    """A notice as it was shown: when (elapsed), under which number, its words and channel."""

    at_ms: int
    number: int
    title: str
    words: str
    channel: str


class FakeAndroid:
    """One device with one app. `files` are those of the record, by path under `basinbell/` in the private folder."""

    def __init__(self, clock: FakeClock, files: dict[str, bytearray], sdk: int = 34) -> None:
        self.clock, self.files, self.sdk = clock, files, sdk
        self.exact_allowed, self.notices_allowed = True, True
        self.alarms: dict[tuple[Any, ...], Alarm] = {}
        self.pending: dict[tuple[Any, ...], Pending] = {}
        self.channels: dict[str, Any] = {}
        self.notices: dict[int, Shown] = {}
        self.shown: list[Shown] = []
        self.opened: list[Intent] = []
        self.deep_sleep = False
        self.boots = 1
        self.documents: Any = None
        self.asked_code = 0
        self.detached = 0

    # --- what happens to the device

    def now_ms(self) -> int:
        return self.clock.read().elapsed_ms

    def advance(self, seconds: float) -> None:
        """Let time pass, asleep or awake, and deliver each alarm at its time."""
        end_ms = self.now_ms() + round(seconds * 1000)
        while due := [a for a in self.alarms.values() if a.at_ms <= end_ms and (a.while_idle or not self.deep_sleep)]:
            alarm = min(due, key=lambda a: (a.at_ms, a.pending.key))
            self.clock.advance(max(0, alarm.at_ms - self.now_ms()) / 1000)
            del self.alarms[alarm.pending.key]
            self._receive(alarm.pending.extras, "")
        self.clock.advance((end_ms - self.now_ms()) / 1000)

    def reboot(self, down_s: float) -> None:
        """Restart the device: what was in memory is gone, then the receiver is told."""
        self.alarms.clear()
        self.pending.clear()
        self.notices.clear()
        self.clock.reboot(down_s)
        self.boots += 1
        self._receive({}, "android.intent.action.BOOT_COMPLETED")

    def _receive(self, extras: dict[str, Any], action: str) -> None:
        """Do what Caller.java does; test_receiver_java.py runs that one itself."""
        if "notice" in extras:
            self.notify(extras["number"], extras["notice"])
        elif action and "under-way" in self.files:
            title, words = bytes(self.files["under-way"]).decode().splitlines()
            self.notify(1_000_000, Notice("ready.11", title, words))

    # --- services

    def notify(self, number: int, notice: Notice) -> None:
        if self.notices_allowed and notice.channel in self.channels:
            shown = Shown(self.now_ms(), number, notice.title, notice.words, notice.channel)
            self.notices[number] = shown
            self.shown.append(shown)

    def set(self, kind: int, at_ms: int, pending: Pending, exact: bool, while_idle: bool) -> None:
        if kind != 2:
            raise ValueError(f"alarm type {kind} would not wake the device, or would move with the wall clock")
        if exact and self.sdk >= 31 and not self.exact_allowed:
            raise SecurityException("SCHEDULE_EXACT_ALARM")
        if len(self.alarms) >= 500:
            raise RuntimeError("Maximum limit of concurrent alarms 500 reached")
        # Inexact ones come late; how late is the system's choice.
        self.alarms[pending.key] = Alarm(at_ms if exact else at_ms + 600_000, pending, exact, while_idle)

    def module(self) -> types.ModuleType:
        """Give what stands in the place of the module `jnius`."""
        from tests.handheld.java_classes import java_class

        bridge = types.ModuleType("jnius")
        bridge.autoclass = lambda name: java_class(self, name)  # type: ignore[attr-defined]
        bridge.cast = lambda name, value: value  # type: ignore[attr-defined]
        bridge.detach = self._detach  # type: ignore[attr-defined]
        return bridge

    def _detach(self) -> None:
        self.detached += 1


@dataclass
class Notice:
    channel: str
    title: str
    words: str
