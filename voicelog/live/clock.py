"""The clock that everything live is told the time by, so that tests need not wait.

Time inside a session is the sample count; this clock only says how much of it should have
passed, and what the wall says once, at the start.
"""

from __future__ import annotations

import time
from datetime import datetime
from typing import Protocol

__all__ = ["Clock", "SleepWatch", "SystemClock", "WallClockWatch"]

JUMP_S = 2.0
"""A jump of the wall clock, or a sleep of the machine, from here on (s) is told."""
_SINCE_BOOT = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


class Clock(Protocol):
    """Seconds that only grow, and the time of day."""

    def seconds(self) -> float:
        """Seconds (s) since some moment; never set back."""

    def slept_s(self) -> float:
        """Seconds (s) that the machine has slept since some moment."""

    def wall(self) -> datetime:
        """The time of day, with its zone."""


class SystemClock:
    """The machine's clock. Where the system tells (Linux), its seconds go on while it sleeps, so
    that what was not heard meanwhile is a gap in the sound as any other."""

    def seconds(self) -> float:
        return time.clock_gettime(_SINCE_BOOT)

    def slept_s(self) -> float:
        return time.clock_gettime(_SINCE_BOOT) - time.clock_gettime(time.CLOCK_MONOTONIC)

    def wall(self) -> datetime:
        return datetime.now().astimezone()


class WallClockWatch:
    """Notices that somebody set the wall clock, against the clock that is never set.

    A session goes by its samples, so nothing changes by that; it is only kept.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._ahead_s = clock.wall().timestamp() - clock.seconds()

    def jump(self, now_s: float) -> float | None:
        """Seconds (s) by which it was set since the last look, negative for back; else None.

        `now_s` is the present on the clock (s).
        """
        jumped_s = self._clock.wall().timestamp() - now_s - self._ahead_s
        if abs(jumped_s) < JUMP_S:
            return None
        self._ahead_s += jumped_s
        return jumped_s


class SleepWatch:
    """Notices that the machine slept; nothing was heard meanwhile."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._slept_s = clock.slept_s()

    def slept(self) -> float | None:
        """Seconds (s) that it slept since the last look, where that is worth telling."""
        now_s = self._clock.slept_s()
        slept_s = now_s - self._slept_s
        if slept_s < JUMP_S:
            return None
        self._slept_s = now_s
        return slept_s
