"""The handheld's own clocks, read together.

On Linux and Android the elapsed clock is CLOCK_BOOTTIME, which counts sleep, and the boot id comes from the kernel.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from protocols.clock import Reading

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")


class SystemClock:
    """The clock promise on the system's clocks.

    `counts_sleep` says whether the elapsed clock goes on while the device sleeps. Where it does not, soaks come out
    longer, but limits are seen late: a screen has to say so.

    `boot_name` may name the boot where the kernel gives no boot id ("" where it can't either). Then each start of the
    app counts as a boot of its own, with elapsed time from that start on. So no time between two starts is proven,
    which makes soaks longer and never shorter.
    """

    def __init__(self, boot_id: Path = _BOOT_ID, boot_name: Callable[[], str] = str) -> None:
        # Asked for by name because not every system has it.
        self._boottime: int | None = getattr(time, "CLOCK_BOOTTIME", None)
        self.counts_sleep = self._boottime is not None
        self._start_ms = 0
        try:
            self._boot = boot_id.read_text().strip()
        except OSError:
            self._boot = ""
        self._boot = self._boot or boot_name()
        if not self._boot:
            self._boot = f"start-{os.urandom(16).hex()}"
            self._start_ms = self._elapsed_ms()

    def read(self) -> Reading:
        """Promise both clocks of this moment, in whole ms rounded down, and the boot they belong to."""
        return Reading(self._elapsed_ms() - self._start_ms, time.time_ns() // 1_000_000, self._boot)

    def _elapsed_ms(self) -> int:
        if self._boottime is None:
            return time.monotonic_ns() // 1_000_000
        return time.clock_gettime_ns(self._boottime) // 1_000_000
