"""The handheld's own clocks."""

import sys
import time

import pytest

from data.system_clock import SystemClock


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the boot clock and the boot id are Linux's")
def test_on_linux_elapsed_is_the_boot_clock_and_the_boot_has_the_kernels_id():
    before = time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000
    reading = SystemClock().read()
    after = time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000
    assert before <= reading.elapsed_ms <= after
    # The form of the id is that of RFC 9562, section 4: 36 characters. Source: Linux, random(4).
    assert len(reading.boot) == 36 and reading.boot == SystemClock().read().boot
    assert SystemClock().counts_sleep


def test_wall_time_is_unix_time_in_ms():
    before = time.time_ns() // 1_000_000
    wall_ms = SystemClock().read().wall_ms
    assert before <= wall_ms <= time.time_ns() // 1_000_000


def test_without_a_boot_id_each_start_is_a_boot_of_its_own_with_elapsed_from_zero(tmp_path):
    (tmp_path / "empty").write_text("\n")
    for path in (tmp_path / "missing", tmp_path / "empty"):
        first, second = SystemClock(path), SystemClock(path)
        assert first.read().boot != second.read().boot
        assert first.read().boot == first.read().boot
        assert 0 <= first.read().elapsed_ms < 60_000


def test_without_a_boot_clock_it_says_that_sleep_is_not_counted(monkeypatch):
    monkeypatch.delattr(time, "CLOCK_BOOTTIME", raising=False)
    clock = SystemClock()
    assert not clock.counts_sleep
    first = clock.read()
    assert first.elapsed_ms <= clock.read().elapsed_ms
