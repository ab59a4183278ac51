"""The classes of Android that the app reaches through pyjnius, as far as it uses them; any other is an error."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from tests.handheld.documents import Address, DocumentsContract
from tests.handheld.fake_android import IMMUTABLE, NO_CREATE, PACKAGE, FakeAndroid, Intent, Notice, Pending


def java_class(android: FakeAndroid, name: str) -> Any:
    """Give the class of that name on this device. KeyError for one that the stand-in does not know."""
    classes: dict[str, Any] = {
        "org.kivy.android.PythonActivity": SimpleNamespace(mActivity=_Activity(android)),
        "android.os.Build$VERSION": SimpleNamespace(SDK_INT=android.sdk),
        "android.os.SystemClock": SimpleNamespace(elapsedRealtime=android.now_ms),
        "android.provider.Settings$Global": SimpleNamespace(getInt=lambda _, key, default: _setting(android, key)),
        "android.net.Uri": SimpleNamespace(parse=Address),
        "android.media.RingtoneManager": SimpleNamespace(getDefaultUri=lambda kind: f"tone-{kind}"),
        "android.media.AudioAttributes$Builder": _Attributes,
        "android.content.Intent": _intent,
        "android.app.PendingIntent": _PendingIntents(android),
        "android.app.NotificationChannel": _Channel,
        "android.app.Notification$Builder": _Builder,
        "android.provider.DocumentsContract": DocumentsContract,
        "java.lang.String": str,
    }
    return classes[name]


def _setting(android: FakeAndroid, key: str) -> int:
    return android.boots if key == "boot_count" else 0


def _intent(*given: Any) -> Intent:
    if len(given) == 1:
        return Intent(action=given[0])
    return Intent(component=(PACKAGE, "activity")) if given else Intent()


class _Activity:
    def __init__(self, android: FakeAndroid) -> None:
        self._android = android

    def getPackageName(self) -> str:
        return PACKAGE

    def getContentResolver(self) -> Any:
        return self._android.documents

    def startActivityForResult(self, intent: Intent, code: int) -> None:
        self._android.opened.append(intent)
        self._android.asked_code = code

    def getApplicationInfo(self) -> Any:
        return SimpleNamespace(icon=1)

    def checkSelfPermission(self, name: str) -> int:
        return 0 if name == "android.permission.POST_NOTIFICATIONS" and self._android.notices_allowed else -1

    def startActivity(self, intent: Intent) -> None:
        self._android.opened.append(intent)

    def getSystemService(self, name: str) -> Any:
        return {"alarm": _Alarms, "notification": _Notices}[name](self._android)


class _Alarms:
    def __init__(self, android: FakeAndroid) -> None:
        self._android = android

    def canScheduleExactAlarms(self) -> bool:
        return self._android.exact_allowed

    def setExactAndAllowWhileIdle(self, kind: int, at_ms: int, pending: Pending) -> None:
        self._android.set(kind, at_ms, pending, exact=True, while_idle=True)

    def setExact(self, kind: int, at_ms: int, pending: Pending) -> None:
        self._android.set(kind, at_ms, pending, exact=True, while_idle=False)

    def setAndAllowWhileIdle(self, kind: int, at_ms: int, pending: Pending) -> None:
        self._android.set(kind, at_ms, pending, exact=False, while_idle=True)

    def cancel(self, pending: Pending) -> None:
        self._android.alarms.pop(pending.key, None)


class _Notices:
    def __init__(self, android: FakeAndroid) -> None:
        self._android = android

    def createNotificationChannel(self, channel: _Channel) -> None:
        self._android.channels[channel.id] = channel

    def cancelAll(self) -> None:
        self._android.notices.clear()


class _PendingIntents:
    def __init__(self, android: FakeAndroid) -> None:
        self._android = android

    def getActivity(self, context: Any, code: int, intent: Intent, flags: int) -> Pending | None:
        return self._get("activity", code, intent, flags)

    def getBroadcast(self, context: Any, code: int, intent: Intent, flags: int) -> Pending | None:
        return self._get("broadcast", code, intent, flags)

    def _get(self, kind: str, code: int, intent: Intent, flags: int) -> Pending | None:
        # Demanded from apps for Android 12 and later: one of the two flags about changing it.
        if not flags & IMMUTABLE:
            raise ValueError("Targeting S+ requires that one of FLAG_IMMUTABLE or FLAG_MUTABLE be specified")
        key = (kind, intent.component, code)
        if flags & NO_CREATE:
            return self._android.pending.get(key)
        found = self._android.pending.setdefault(key, Pending(self._android, key, {}))
        found.extras = dict(intent.extras)
        return found


class _Channel:
    def __init__(self, channel_id: str, name: str, importance: int) -> None:
        self.id, self.name, self.importance = channel_id, name, importance
        self.vibrates, self.pattern_ms, self.sound = False, None, "default"

    def enableVibration(self, on: bool) -> None:
        self.vibrates = on

    def setVibrationPattern(self, pattern_ms: list[int]) -> None:
        self.pattern_ms = pattern_ms

    def setSound(self, tone: str | None, attributes: Any) -> None:
        self.sound = (tone, attributes)


class _Attributes:
    def setUsage(self, usage: int) -> _Attributes:
        self.usage = usage
        return self

    def build(self) -> int:
        return self.usage


class _Builder:
    def __init__(self, context: Any, channel: str) -> None:
        self._notice = Notice(channel, "", "")

    def setContentTitle(self, title: str) -> None:
        self._notice.title = title

    def setContentText(self, words: str) -> None:
        self._notice.words = words

    def setSmallIcon(self, icon: int) -> None:
        """Any icon will do."""

    def setCategory(self, category: str) -> None:
        """Any category will do."""

    def setContentIntent(self, pending: Pending) -> None:
        """Opens the app."""

    def setAutoCancel(self, on: bool) -> None:
        """The notice goes when touched."""

    def build(self) -> Notice:
        return self._notice
