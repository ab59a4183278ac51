"""The receiver of alarms and restarts, compiled and run on stand-ins of Android's classes, where there is a JDK.

What it does is what `fake_android.FakeAndroid` takes it to do.
"""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from screens.away import MARK
from tests.handheld.carried import BENCH, Carried

HERE = Path(__file__).parent
SOURCES = HERE.parents[1] / "screens/senses/handheld/java"
RECEIVER = SOURCES / "org/basinbell/Caller.java"
needs_jdk = pytest.mark.skipif(not shutil.which("javac") or not shutil.which("java"), reason="needs a JDK")


@pytest.fixture(scope="module")
def classes(tmp_path_factory):
    folder = tmp_path_factory.mktemp("java")
    text = (HERE / "android_stubs.txt").read_text(encoding="utf-8")
    parts = re.split(r"^=== (\S+)\n", text, flags=re.MULTILINE)[1:]
    paths = []
    for name, source in zip(parts[::2], parts[1::2], strict=True):
        path = folder / "stubs" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(source, encoding="utf-8")
        paths.append(str(path))
    command = ["javac", "--release", "8", "-Xlint:-options", "-d", str(folder / "out"), str(RECEIVER), *paths]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return folder / "out"


def received(classes, files, *given):
    done = subprocess.run(
        ["java", "-Xshare:auto", "-cp", str(classes), "Drive", str(files), *given], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


@needs_jdk
def test_an_alarm_shows_the_notice_it_brings(classes, tmp_path):
    assert received(classes, tmp_path, "", "G7 lift out") == ["3|late.11|G7 lift out|x"]


@needs_jdk
@pytest.mark.parametrize("action", ["BOOT_COMPLETED", "MY_PACKAGE_REPLACED"])
def test_a_restart_or_an_update_shows_what_the_mark_says_or_nothing(classes, tmp_path, monkeypatch, action):
    full = f"android.intent.action.{action}"
    assert received(classes, tmp_path, full) == []
    carried = Carried(monkeypatch, BENCH[:1])
    mark = tmp_path / "basinbell" / MARK
    mark.parent.mkdir()
    mark.write_bytes(carried.disk.files[MARK])
    carried.android.reboot(5)
    (shown,) = carried.android.shown
    assert received(classes, tmp_path, full) == [f"{shown.number}|{shown.channel}|{shown.title}|{shown.words}"]
    mark.write_bytes(b"one line only")
    assert received(classes, tmp_path, full) == []
    mark.write_bytes(b"two\nlines\n")
    assert received(classes, tmp_path, "") == [], "an alarm without its notice is none"


def test_java_and_python_agree_on_names(monkeypatch):
    source = RECEIVER.read_text(encoding="utf-8")
    constants = dict(re.findall(r'static final String (\w+) = "([^"]+)"', source))
    assert constants["MARK"] == f"basinbell/{MARK}"
    carried = Carried(monkeypatch)
    assert constants["CHANNEL"] in carried.android.channels, "the channel of a restart is open from the first start on"
    carried.pause()
    extras = next(iter(carried.android.alarms.values())).pending.extras
    assert set(extras) == {constants["NOTICE"], constants["NUMBER"]}
    assert next(iter(carried.android.alarms.values())).pending.key[1] == (
        "org.basinbell.handheld",
        "org.basinbell.Caller",
    )
