"""Pause, alarm, resume, kill, restart: what a handheld goes through, on the fake clock and the stand-in of Android."""

import time

import pytest

from screens.foreseen import CALLS_MOST
from screens.senses.buzz import PATTERNS_S
from screens.senses.promise import LEVELS
from tests.handheld.carried import BENCH, Carried

HOUR_S = 3600


def called(carried):
    """What was sounded in the app: when, which scope's call, how urgent."""
    return [(at_ms, call, level) for at_ms, call, level in carried.chime.calls]


def scopes(carried):
    return list(carried.desk.unit.scopes)


def test_what_the_app_would_call_the_alarms_call_at_the_same_times(monkeypatch):
    front, away = Carried(monkeypatch), Carried(monkeypatch)
    for one in (front, away):
        one.in_front(5)
    begin_ms = front.clock.read().elapsed_ms
    # The same seconds twice: once with the app in front, once away.
    away.pause()
    front.in_front(2 * HOUR_S)
    away.android.advance(2 * HOUR_S)
    wanted = [(at_ms, scopes(front)[call], level) for at_ms, call, level in called(front) if at_ms > begin_ms]
    shown = [(x.at_ms, x.title.split()[0], x.channel.removesuffix(".11")) for x in away.android.shown]
    assert len(wanted) > CALLS_MOST
    assert {level for _, _, level in wanted} == set(LEVELS)
    for (at_ms, scope, level), alarm in zip(wanted[:CALLS_MOST], shown, strict=False):
        assert alarm[1:] == (scope, level)
        assert 0 <= at_ms - alarm[0] <= 40, "an alarm is at its time, the app at most a frame later"


def test_no_alarm_comes_before_its_soak_has_its_time(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    due_in = {c.scope: c.timer.min_s for c in carried.desk.unit.cycles.values() if c.timer and c.timer.min_s}
    began = {c.scope: c.timer.since for c in carried.desk.unit.cycles.values() if c.timer}
    carried.android.advance(2 * HOUR_S)
    firsts = {}
    for shown in carried.android.shown:
        if shown.channel.startswith("ready"):
            firsts.setdefault(shown.title.split()[0], shown.at_ms)
    base_ms = carried.desk.now().proven_ms - carried.android.now_ms()
    assert set(due_in) <= set(firsts)
    for scope, needed_s in due_in.items():
        # Never before; after it by no more than the calls that had their turn first.
        assert 0 <= base_ms + firsts[scope] - began[scope].proven_ms - needed_s * 1000 < 10_000


def test_coming_back_takes_every_alarm_and_notice_away_and_the_app_goes_on_calling(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    carried.android.advance(600)
    assert carried.android.notices and carried.android.alarms
    count = len(called(carried))
    carried.resume()
    assert not carried.android.notices and not carried.android.alarms
    assert len(called(carried)) == count + 1, "what is due is called at once"
    shown = len(carried.android.shown)
    carried.in_front(HOUR_S)
    assert len(carried.android.shown) == shown
    carried.pause()
    assert carried.android.alarms, "the next time away they are set anew"


def test_after_something_was_done_the_next_alarms_are_of_what_runs_then(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    carried.android.advance(250)
    carried.resume()
    carried.clock.advance(1)
    assert carried.desk.give("lift", "G7").done
    carried.pause()
    titles = [alarm.pending.extras["notice"].title for alarm in carried.android.alarms.values()]
    assert not [t for t in titles if t.startswith("G7 lift")]
    assert [t for t in titles if t.startswith("G8 lift")]


def test_the_system_may_kill_the_app_and_its_alarms_still_come(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    armed = len(carried.android.alarms)
    carried.kill()
    carried.android.advance(HOUR_S)
    assert armed > len(carried.android.alarms) and carried.android.shown
    carried.open()
    assert not carried.android.alarms and not carried.android.notices, "a start takes away what an earlier run left"
    assert called(carried), "and calls what is due"
    assert not carried.door.found.rebooted


def test_a_restart_loses_alarms_and_one_notice_says_so(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    carried.kill()
    carried.android.reboot(down_s=90)
    assert not carried.android.alarms
    assert [(x.title, x.number) for x in carried.android.shown] == [("Scopes are under way", 1_000_000)]
    carried.android.advance(HOUR_S)
    assert len(carried.android.shown) == 1, "nobody knows the times across a restart until the record is opened"
    carried.open()
    assert carried.door.found.rebooted and not carried.android.notices
    carried.pause()
    assert carried.android.alarms


def test_without_scopes_under_way_a_restart_says_nothing(monkeypatch):
    carried = Carried(monkeypatch, BENCH[:1])
    carried.beat()
    assert "under-way" in carried.disk.files
    carried.desk.by = "mira"
    assert carried.desk.give("out-of-service", "G7", {"reason": "sent away", "owner": "repair shop"}, by="mira").done
    carried.beat()
    assert "under-way" not in carried.disk.files
    carried.pause()
    assert not carried.android.alarms
    carried.kill()
    carried.android.reboot(30)
    assert not carried.android.shown


def test_the_mark_of_scopes_under_way_is_no_damage_to_the_record(monkeypatch):
    carried = Carried(monkeypatch)
    assert b"Scopes are under way\n" in carried.disk.files["under-way"]
    carried.kill()
    carried.open()
    assert not carried.door.found.set_aside


def away_for_an_hour(monkeypatch, happens):
    """What was shown, counted from leaving the app, when this happens to the device meanwhile."""
    carried = Carried(monkeypatch)
    carried.pause()
    begin_ms = carried.android.now_ms()
    happens(carried)
    carried.android.advance(HOUR_S)
    return [(shown.at_ms - begin_ms, shown.title) for shown in carried.android.shown]


def test_setting_the_wall_clock_or_changing_the_zone_moves_no_alarm(monkeypatch):
    faces = []

    def moved(carried):
        monkeypatch.setenv("TZ", "Pacific/Auckland")
        time.tzset()
        carried.clock.step(-7200)
        faces.append(carried.desk.clock_face())

    plain = away_for_an_hour(monkeypatch, lambda carried: None)
    try:
        other = away_for_an_hour(monkeypatch, moved)
    finally:
        monkeypatch.delenv("TZ")
        time.tzset()
    assert plain == other and plain
    assert faces == ["08:42"], "the clock on the screen goes by the unit's zone and the wall clock as it is set"


def test_in_deep_sleep_the_first_call_of_each_still_comes(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    wanted = {
        (a.pending.extras["notice"].title, a.pending.extras["notice"].channel) for a in carried.android.alarms.values()
    }
    carried.android.deep_sleep = True
    carried.android.advance(24 * HOUR_S)
    assert {(x.title, x.channel) for x in carried.android.shown} == wanted
    # Android lets each app have some 72 such alarms an hour (from memory); here they are few.
    assert len(carried.android.shown) < 72


def test_the_last_alarm_says_that_no_other_comes(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    alarms = sorted(carried.android.alarms.values(), key=lambda alarm: alarm.at_ms)
    words = [alarm.pending.extras["notice"].words for alarm in alarms]
    assert "No reminder comes after this one" in words[-1]
    assert not [w for w in words[:-1] if "No reminder" in w]
    assert len(alarms) < 500
    assert alarms[-1].at_ms - carried.android.now_ms() > HOUR_S * 1000


def test_a_notice_of_a_prompt_takes_the_place_of_its_last_one(monkeypatch):
    carried = Carried(monkeypatch)
    carried.pause()
    carried.android.advance(HOUR_S)
    assert len(carried.android.notices) <= len(carried.desk.unit.cycles)
    assert len(carried.android.shown) > len(carried.android.notices)


@pytest.mark.parametrize(("sound", "buzz"), [(True, True), (True, False), (False, True), (False, False)])
def test_what_is_switched_off_on_the_handheld_is_off_for_alarms_too(monkeypatch, sound, buzz):
    carried = Carried(monkeypatch)
    carried.chime.volume, carried.buzz.on = float(sound), buzz
    carried.pause()
    carried.android.advance(2 * HOUR_S)
    used = {shown.channel for shown in carried.android.shown}
    assert used == {f"{level}.{int(sound)}{int(buzz)}" for level in LEVELS}
    for channel_id in used:
        channel = carried.android.channels[channel_id]
        assert channel.importance == 4  # NotificationManager.IMPORTANCE_HIGH
        assert channel.vibrates is buzz
        assert channel.sound == (("tone-2", 4) if sound else (None, None))
        if buzz:
            level = channel_id.split(".")[0]
            assert channel.pattern_ms == [round(x * 1000) for x in PATTERNS_S[level]]


def test_the_screen_is_kept_on_while_something_runs_or_calls_and_no_longer(monkeypatch):
    carried = Carried(monkeypatch, BENCH[:1])
    carried.in_front(3)
    assert {awake for _, awake in carried.awake.calls} == {True}
    carried.desk.by = "mira"
    assert carried.desk.give("out-of-service", "G7", {"reason": "sent away", "owner": "repair shop"}, by="mira").done
    carried.in_front(2)
    assert carried.awake.calls[-1][1] is False


def test_what_falls_due_while_the_screen_draws_is_called_with_the_next_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    carried = Carried(monkeypatch)
    to_change_s = carried.prompting.next_in_s(carried)
    assert to_change_s is not None
    # The app looks 2 ms too early and draws for 9 ms, in which the prompt falls due.
    carried.clock.advance(to_change_s - 0.002)
    carried.beat()
    seen = {(p.key, p.level) for p in carried.prompts}
    carried.clock.advance(0.009)
    assert {(p.key, p.level) for p in carried.desk.prompts()} != seen
    assert carried.prompting.next_in_s(carried) == 0
    carried.beat()
    after = carried.prompting.next_in_s(carried)
    assert after is not None and after > 0, "once seen it is over"
