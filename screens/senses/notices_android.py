"""Notices on Android: what an alarm shows while another app is in front or the screen is off.

plyer 2.1.0 is not used here: it makes its PendingIntent without the immutable flag, which ends the app on Android 12
and later, and gives every notice the same number. Not run on a device yet; its calls are tested against a stand-in.
"""

from __future__ import annotations

from typing import Any

from screens.senses import bridge
from screens.senses.buzz import PATTERNS_S
from screens.senses.promise import Level
from screens.words import say

_IMPORTANCE_HIGH = 4  # NotificationManager.IMPORTANCE_HIGH: shows over other apps and may sound
_FLAG_SINGLE_TOP = 0x20000000  # Intent.FLAG_ACTIVITY_SINGLE_TOP: opens the running app, not a second one
_PERMISSION_GRANTED = 0  # PackageManager.PERMISSION_GRANTED
_USAGE_ALARM = 4  # AudioAttributes.USAGE_ALARM: the volume of alarms decides, and most quiet modes let it through
_TYPE_NOTIFICATION = 2  # RingtoneManager.TYPE_NOTIFICATION: short, where an alarm's own tone goes on for long
_CATEGORY_ALARM = "alarm"  # Notification.CATEGORY_ALARM


class AndroidNotices:
    """Makes notices for android.app.NotificationManager; each urgency is a channel with its own rhythm."""

    def __init__(self) -> None:
        """Touch nothing yet: the bridge to Java is asked at the first need."""
        self._open: set[str] = set()

    def allowed(self) -> bool:
        """Say whether the person allows notices; raises ImportError where there is no bridge to Java."""
        if bridge.sdk() < bridge.NOTICES_ASKED_SINCE_SDK:
            return True
        held = bridge.activity().checkSelfPermission("android.permission.POST_NOTIFICATIONS")
        return bool(held == _PERMISSION_GRANTED)

    def ask(self) -> None:
        """Open the system's page on which the person allows this app's notices."""
        bridge.open_settings("android.settings.APP_NOTIFICATION_SETTINGS", with_address=False)

    def channel(self, level: Level, sound: bool, buzz: bool) -> str:
        """Give the id of an open channel: a level, heard or not, felt or not, as the person has switched it."""
        channel_id = f"{level}.{int(sound)}{int(buzz)}"
        if channel_id not in self._open:
            name = bridge.text(say(f"alarms.channel.{level}"))
            made = bridge.java("android.app.NotificationChannel")(channel_id, name, _IMPORTANCE_HIGH)
            made.enableVibration(buzz)
            if buzz:
                made.setVibrationPattern([round(part_s * 1000) for part_s in PATTERNS_S[level]])
            if sound:
                attributes = bridge.java("android.media.AudioAttributes$Builder")().setUsage(_USAGE_ALARM).build()
                made.setSound(
                    bridge.java("android.media.RingtoneManager").getDefaultUri(_TYPE_NOTIFICATION), attributes
                )
            else:
                made.setSound(None, None)
            self._manager().createNotificationChannel(made)
            self._open.add(channel_id)
        return channel_id

    def made(self, title: str, words: str, channel_id: str) -> Any:
        """Give a notice that opens the app when touched."""
        context = bridge.activity()
        intent = bridge.java("android.content.Intent")(context, bridge.java("org.kivy.android.PythonActivity"))
        intent.setFlags(_FLAG_SINGLE_TOP)
        opens = bridge.java("android.app.PendingIntent").getActivity(context, 0, intent, bridge.FLAG_IMMUTABLE)
        builder = bridge.java("android.app.Notification$Builder")(context, channel_id)
        builder.setContentTitle(bridge.text(title))
        builder.setContentText(bridge.text(words))
        builder.setSmallIcon(context.getApplicationInfo().icon)
        builder.setCategory(_CATEGORY_ALARM)
        builder.setContentIntent(opens)
        builder.setAutoCancel(True)
        return builder.build()

    def clear(self) -> None:
        """Take away every notice of this app."""
        self._manager().cancelAll()

    @staticmethod
    def _manager() -> Any:
        return bridge.service("notification", "android.app.NotificationManager")
