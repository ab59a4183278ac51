"""The only way to Android's own classes: pyjnius, imported when first needed.

Nothing here was run on a device. The tests put a stand-in of Android in the place of pyjnius.
"""

from __future__ import annotations

from typing import Any

from screens.senses.promise import LOG

EXACT_ALARMS_ASKED_SINCE_SDK = 31  # Android 12
NOTICES_ASKED_SINCE_SDK = 33  # Android 13
FLAG_IMMUTABLE = 0x04000000  # PendingIntent.FLAG_IMMUTABLE, demanded since Android 12


def java(name: str) -> Any:
    """Give a class of Java; raises ImportError where there is no bridge to it."""
    from jnius import autoclass

    return autoclass(name)


def activity() -> Any:
    """Give the app's activity, which is also its context."""
    return java("org.kivy.android.PythonActivity").mActivity


def service(name: str, class_name: str) -> Any:
    """Give a service of the system by its name, as the class it is."""
    from jnius import cast

    return cast(class_name, activity().getSystemService(name))


def text(words: str) -> Any:
    """Give words as the type that Android's own texts have."""
    from jnius import cast

    return cast("java.lang.CharSequence", java("java.lang.String")(words))


def sdk() -> int:
    """Give the number of this Android, as 33 for Android 13."""
    return int(java("android.os.Build$VERSION").SDK_INT)


def open_settings(action: str, with_address: bool) -> None:
    """Open a page of the system's settings about this app, by its address or by its name."""
    context = activity()
    intent = java("android.content.Intent")(action)
    if with_address:
        intent.setData(java("android.net.Uri").parse(f"package:{context.getPackageName()}"))
    else:
        intent.putExtra("android.provider.extra.APP_PACKAGE", context.getPackageName())
    context.startActivity(intent)


def boot_name() -> str:
    """Give a name of this boot by the system's count of boots, or "" where it can't be had.

    For systems that keep the kernel's boot id from apps. Settings.Global.BOOT_COUNT is there since Android 7.
    """
    try:
        resolver = activity().getContentResolver()
        count = int(java("android.provider.Settings$Global").getInt(resolver, "boot_count", 0))
    except Exception as error:
        LOG.warning("counting boots did not work: %s: %s", type(error).__name__, error)
        return ""
    return f"android-boot-{count}" if count > 0 else ""
