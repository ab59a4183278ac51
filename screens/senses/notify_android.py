"""Notices on Android, by direct calls.

plyer 2.1.0 is not used here: it makes its PendingIntent without the immutable flag, which ends the app on
Android 12 and later, and gives every notice the same number. Not run on a device yet; its calls are tested
against a stand-in.
"""

from __future__ import annotations

from typing import Any

from screens.senses.promise import YES, Can, no

CHANNEL = "prompts"
_IMPORTANCE_HIGH = 4  # NotificationManager.IMPORTANCE_HIGH: shows over other apps and may sound
_FLAG_IMMUTABLE = 0x04000000  # PendingIntent.FLAG_IMMUTABLE, demanded since Android 12
_FLAG_SINGLE_TOP = 0x20000000  # Intent.FLAG_ACTIVITY_SINGLE_TOP: opens the running app, not a second one
_PERMISSION_GRANTED = 0  # PackageManager.PERMISSION_GRANTED
_ASKED_SINCE_SDK = 33  # Android 13 asks the person before an app may post
_CHANNELS_SINCE_SDK = 26


class AndroidBoard:
    """Posts through android.app.NotificationManager."""

    def __init__(self) -> None:
        """Touch nothing yet: the bridge to Java is asked at the first need."""
        self._manager: Any = None

    def can(self) -> Can:
        """Say whether the person allows notices; raises ImportError where there is no bridge to Java."""
        from jnius import autoclass

        activity = autoclass("org.kivy.android.PythonActivity").mActivity
        if autoclass("android.os.Build$VERSION").SDK_INT < _ASKED_SINCE_SDK:
            return YES
        allowed = activity.checkSelfPermission("android.permission.POST_NOTIFICATIONS") == _PERMISSION_GRANTED
        return YES if allowed else no("notices_refused")

    def post(self, title: str, words: str, number: int) -> Can:
        """Put up a notice that opens the app when touched."""
        from jnius import autoclass, cast

        activity_class = autoclass("org.kivy.android.PythonActivity")
        activity = activity_class.mActivity
        text = autoclass("java.lang.String")
        if self._manager is None:
            self._manager = self._open_channel(activity, autoclass, cast, text)
        builder_class = autoclass("android.app.Notification$Builder")
        old = autoclass("android.os.Build$VERSION").SDK_INT < _CHANNELS_SINCE_SDK
        builder = builder_class(activity) if old else builder_class(activity, CHANNEL)
        intent = autoclass("android.content.Intent")(activity, activity_class)
        intent.setFlags(_FLAG_SINGLE_TOP)
        opens = autoclass("android.app.PendingIntent").getActivity(activity, 0, intent, _FLAG_IMMUTABLE)
        builder.setContentTitle(cast("java.lang.CharSequence", text(title)))
        builder.setContentText(cast("java.lang.CharSequence", text(words)))
        builder.setSmallIcon(activity.getApplicationInfo().icon)
        builder.setContentIntent(opens)
        builder.setAutoCancel(True)
        self._manager.notify(number, builder.build())
        return YES

    @staticmethod
    def _open_channel(activity: Any, autoclass: Any, cast: Any, text: Any) -> Any:
        service = activity.getSystemService("notification")
        manager = cast("android.app.NotificationManager", service)
        if autoclass("android.os.Build$VERSION").SDK_INT >= _CHANNELS_SINCE_SDK:
            name = cast("java.lang.CharSequence", text("Basinbell"))
            manager.createNotificationChannel(
                autoclass("android.app.NotificationChannel")(CHANNEL, name, _IMPORTANCE_HIGH)
            )
        return manager
