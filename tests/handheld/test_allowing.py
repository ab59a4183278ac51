"""What the person allows or refuses: said on the Bench, asked for with the reason, looked at again on coming back."""

import sys

import pytest

from data.memory_disk import MemoryDisk
from screens.away import Away, ask_once
from screens.setup.preferences import load
from screens.telling import failing_words
from tests.handheld.carried import Carried


class Asking:
    """Stands for the shell: keeps what it was asked to confirm."""

    def __init__(self, desk):
        self.desk, self.asked = desk, []

    def confirm(self, words, yes, then, no=""):
        self.asked.append((words, yes, then, no))


def said(carried):
    return [failing_words(name, why) for name, why in carried.prompting.failing()]


def test_all_allowed_says_nothing(monkeypatch):
    carried = Carried(monkeypatch)
    assert carried.alarms.can() and said(carried) == []


@pytest.mark.parametrize(("exact", "notices"), [(False, True), (True, False), (False, False)])
def test_what_is_refused_is_said_as_prompts_only_while_the_screen_is_on(monkeypatch, exact, notices):
    carried = Carried(monkeypatch)
    carried.android.exact_allowed, carried.android.notices_allowed = exact, notices
    carried.resume()
    (words,) = said(carried)
    assert words.startswith("Prompts only while the screen is on: ")
    assert ("notices" in words) is not notices
    carried.android.exact_allowed = carried.android.notices_allowed = True
    carried.resume()
    assert said(carried) == [], "the person may have been in the settings: it looks again on coming back"


# developer.android.com, "Schedule exact alarms are denied by default" and "Notification runtime permission": asked for
# since Android 12 (API 31) and Android 13 (API 33).
@pytest.mark.parametrize(
    ("sdk", "exact", "notices", "can"),
    [(30, False, False, True), (31, True, False, True), (31, False, True, False), (33, True, False, False)],
)
def test_older_androids_ask_for_less(monkeypatch, sdk, exact, notices, can):
    carried = Carried(monkeypatch, sdk=sdk)
    carried.android.exact_allowed, carried.android.notices_allowed = exact, notices
    assert bool(carried.alarms.check()) is can


def test_refused_exact_alarms_come_late_rather_than_not_at_all(monkeypatch):
    carried = Carried(monkeypatch)
    carried.android.exact_allowed = False
    carried.resume()
    carried.pause()
    assert carried.android.alarms and not any(alarm.exact for alarm in carried.android.alarms.values())
    carried.android.advance(3600)
    assert carried.android.shown


def test_refused_notices_show_nothing_and_harm_nothing(monkeypatch):
    carried = Carried(monkeypatch)
    carried.android.notices_allowed = False
    carried.resume()
    carried.pause()
    carried.android.advance(3600)
    assert not carried.android.shown
    carried.resume()


def test_allowing_leads_to_notices_first_and_then_to_exact_alarms(monkeypatch):
    carried = Carried(monkeypatch)
    carried.android.exact_allowed = carried.android.notices_allowed = False
    assert carried.alarms.ask()
    page = carried.android.opened[-1]
    # Settings.ACTION_APP_NOTIFICATION_SETTINGS and EXTRA_APP_PACKAGE.
    assert page.action == "android.settings.APP_NOTIFICATION_SETTINGS"
    assert page.extras == {"android.provider.extra.APP_PACKAGE": "org.basinbell.handheld"}
    carried.android.notices_allowed = True
    assert carried.alarms.ask()
    page = carried.android.opened[-1]
    # Settings.ACTION_REQUEST_SCHEDULE_EXACT_ALARM, with the app's package as its address.
    assert (page.action, page.data) == (
        "android.settings.REQUEST_SCHEDULE_EXACT_ALARM",
        "package:org.basinbell.handheld",
    )


def test_it_asks_once_with_the_reason(monkeypatch):
    carried = Carried(monkeypatch)
    carried.android.exact_allowed = False
    carried.resume()
    shell = Asking(carried.desk)
    ask_once(carried.alarms, shell, carried.disk)
    ((words, _, then, _),) = shell.asked
    assert "While the screen is off" in words and "exact alarms" in words
    then()
    assert carried.android.opened
    ask_once(carried.alarms, shell, carried.disk)
    assert len(shell.asked) == 1 and load(carried.disk).alarms_asked


@pytest.mark.parametrize("why", ["allowed", "no scope", "not needed"])
def test_it_does_not_ask_without_need(monkeypatch, why):
    from data.opening import open_door
    from screens.desk import Desk
    from screens.senses.alarms import Alarms
    from tests.handheld.carried import SHELF

    carried = Carried(monkeypatch)
    shell, alarms = Asking(carried.desk), carried.alarms
    if why != "allowed":
        carried.android.exact_allowed = False
        carried.resume()
    if why == "no scope":
        shell.desk = Desk(open_door(MemoryDisk(), carried.clock, SHELF, "new"))
    if why == "not needed":
        alarms = Alarms(None, bool, bool)
    ask_once(alarms, shell, carried.disk)
    assert shell.asked == []


def test_a_device_that_refuses_everything_stops_nothing(monkeypatch):
    carried = Carried(monkeypatch)

    def refuse(*_):
        raise RuntimeError("the system service is dead")

    for name in ("elapsed_ms", "arm", "clear", "can", "ready", "ask"):
        monkeypatch.setattr(carried.alarms._clockwork, name, refuse)
    carried.away.started()
    carried.pause()
    carried.resume()
    assert said(carried) == ["Prompts only while the screen is on: this device refuses alarms"]
    assert not carried.alarms.ask()


def test_one_alarm_that_is_refused_takes_no_other_with_it(monkeypatch):
    carried = Carried(monkeypatch)
    real, count = carried.alarms._clockwork.arm, []

    def arm(place, *rest):
        count.append(place)
        if len(count) == 3:
            raise RuntimeError("refused")
        real(place, *rest)

    monkeypatch.setattr(carried.alarms._clockwork, "arm", arm)
    carried.pause()
    assert len(carried.android.alarms) == len(count) - 1
    # Those after the gap are found and taken away as well.
    carried.resume()
    assert not carried.android.alarms


def test_a_mark_that_can_not_be_kept_is_tried_again(monkeypatch):
    from tests.faults import FaultyDisk

    carried = Carried(monkeypatch)
    carried.disk.remove("under-way")
    broken = FaultyDisk(carried.disk)
    away = Away(carried.alarms, carried.prompting, broken)
    broken.fail(at=1)
    away.beat(carried.desk)
    assert "under-way" not in carried.disk.files
    away.beat(carried.desk)
    assert "under-way" in carried.disk.files


def test_the_boot_has_the_systems_count_as_its_name_or_none(monkeypatch):
    from screens.senses.bridge import boot_name

    carried = Carried(monkeypatch)
    assert boot_name() == "android-boot-1"
    carried.android.reboot(5)
    assert boot_name() == "android-boot-2"
    carried.android.boots = 0
    assert boot_name() == ""
    monkeypatch.setitem(sys.modules, "jnius", None)
    assert boot_name() == ""
