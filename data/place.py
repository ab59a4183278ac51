"""Where the record lies on this system, and where what can be made again lies.

On Android both are in the app's private folder, which no other app can read. They stand beside the folder `app` that
holds the code, never in it: an update of the app empties that one. Uninstalling the app takes the record with it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

NAME = "basinbell"
# Set by python-for-android to the private folder (Context.getFilesDir) before the app starts.
_PRIVATE = "ANDROID_PRIVATE"


def on_android(environment: Mapping[str, str] = os.environ) -> bool:
    """Promise whether the app runs on an Android device, as far as the environment says."""
    return bool(environment.get(_PRIVATE))


def home_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Promise the folder of the record where none is named: the private folder, or the user's data folder (XDG)."""
    private = environment.get(_PRIVATE)
    if private:
        return Path(private) / NAME
    return Path(environment.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / NAME


def remade_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Promise the folder of sounds and Kivy's settings, which are made again when they are missing.

    On Android not the system's cache folder: that may be emptied while the app runs and its sounds are needed.
    """
    private = environment.get(_PRIVATE)
    if private:
        return Path(private) / "remade"
    return Path(environment.get("XDG_CACHE_HOME") or Path.home() / ".cache") / NAME


def leave_thread() -> None:
    """Promise that the thread may end: every thread of our own calls it last, whether it used Java or not.

    Android ends the whole app when a thread that used Java ends without having been taken off it (pyjnius: detach).
    """
    bridge = sys.modules.get("jnius")
    if bridge is not None:
        bridge.detach()
