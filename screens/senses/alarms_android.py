"""Exact alarms of Android, which come while the app sleeps, after it was ended for memory, and while the device sleeps.

They are set on the elapsed clock, so that setting the wall clock or changing the time zone moves none. They are lost
when the device restarts and when somebody ends the app in the system's settings. Each brings its whole notice with it,
shown by our receiver (`handheld/java/`), because the app itself may be gone. Not run on a device yet.
"""

from __future__ import annotations

from typing import Any

from screens.senses import bridge
from screens.senses.alarms import Reminder
from screens.senses.notices_android import AndroidNotices
from screens.senses.promise import YES, Can, no

RECEIVER = "org.basinbell.Caller"
_ELAPSED_REALTIME_WAKEUP = 2  # AlarmManager.ELAPSED_REALTIME_WAKEUP: wakes the device
_FLAG_NO_CREATE = 0x20000000  # PendingIntent.FLAG_NO_CREATE
_FLAG_UPDATE_CURRENT = 0x08000000  # PendingIntent.FLAG_UPDATE_CURRENT


class AndroidAlarms:
    """Sets alarms through android.app.AlarmManager."""

    def __init__(self) -> None:
        """Touch nothing yet: the bridge to Java is asked at the first need."""
        self._notices = AndroidNotices()

    def can(self) -> Can:
        """Say whether the person allows both notices and exact alarms."""
        if not self._notices.allowed():
            return no("notices_refused")
        return YES if self._exact() else no("no_exact_alarms")

    def _exact(self) -> bool:
        if bridge.sdk() < bridge.EXACT_ALARMS_ASKED_SINCE_SDK:
            return True
        return bool(self._manager().canScheduleExactAlarms())

    def elapsed_ms(self) -> int:
        """Give the time since boot, sleep included."""
        return int(bridge.java("android.os.SystemClock").elapsedRealtime())

    def arm(self, place: int, at_ms: int, number: int, reminder: Reminder, sound: bool, buzz: bool) -> None:
        """Set the alarm at a place.

        Where exact ones are not allowed an inexact one is set: it comes late, and late is better than not at all.
        """
        channel = self._notices.channel(reminder.level, sound, buzz)
        intent = self._intent()
        intent.putExtra("notice", self._notices.made(reminder.title, reminder.words, channel))
        intent.putExtra("number", number)
        flags = bridge.FLAG_IMMUTABLE | _FLAG_UPDATE_CURRENT
        pending = bridge.java("android.app.PendingIntent").getBroadcast(bridge.activity(), place, intent, flags)
        manager = self._manager()
        if not self._exact():
            manager.setAndAllowWhileIdle(_ELAPSED_REALTIME_WAKEUP, at_ms, pending)
        elif reminder.first:
            # Android lets through few of these while the device sleeps deeply, so repeats don't use them up.
            manager.setExactAndAllowWhileIdle(_ELAPSED_REALTIME_WAKEUP, at_ms, pending)
        else:
            manager.setExact(_ELAPSED_REALTIME_WAKEUP, at_ms, pending)

    def ready(self) -> None:
        """Open the channel that the receiver uses after a restart of the device."""
        self._notices.channel("ready", sound=True, buzz=True)

    def clear(self) -> None:
        """Take back every alarm: places are used from 0 on without a gap, also by an earlier run."""
        manager, pending_class = self._manager(), bridge.java("android.app.PendingIntent")
        flags = bridge.FLAG_IMMUTABLE | _FLAG_NO_CREATE
        place = 0
        while (pending := pending_class.getBroadcast(bridge.activity(), place, self._intent(), flags)) is not None:
            manager.cancel(pending)
            pending.cancel()
            place += 1
        self._notices.clear()

    def ask(self) -> None:
        """Open the page for what is missing: first notices, without which no alarm is seen, then exact alarms."""
        if not self._notices.allowed():
            self._notices.ask()
        else:
            bridge.open_settings("android.settings.REQUEST_SCHEDULE_EXACT_ALARM", with_address=True)

    @staticmethod
    def _intent() -> Any:
        intent = bridge.java("android.content.Intent")()
        intent.setClassName(bridge.activity().getPackageName(), RECEIVER)
        return intent

    @staticmethod
    def _manager() -> Any:
        return bridge.service("alarm", "android.app.AlarmManager")
