"""Hook of python-for-android: puts the receiver of alarms and restarts into the app's manifest.

Runs on the computer that builds the app, in the folder of the build, after the manifest was written; buildozer does
that twice in one build.
"""

from pathlib import Path

MANIFEST = Path("src/main/AndroidManifest.xml")
_END = "</application>"
# Not exported: only the system and the app itself may call it.
_RECEIVER = """\
    <receiver android:name="org.basinbell.Caller" android:exported="false">
        <intent-filter>
            <action android:name="android.intent.action.BOOT_COMPLETED" />
            <action android:name="android.intent.action.MY_PACKAGE_REPLACED" />
        </intent-filter>
    </receiver>
"""


def before_apk_assemble(toolchain):
    """Promise a manifest with the receiver in it once. Raises ValueError where there is no place for it."""
    text = MANIFEST.read_text(encoding="utf-8")
    if _RECEIVER in text:
        return
    if text.count(_END) != 1:
        raise ValueError(f"{MANIFEST} has {text.count(_END)} times {_END}; the receiver of alarms needs exactly one")
    MANIFEST.write_text(text.replace(_END, _RECEIVER + _END), encoding="utf-8")
