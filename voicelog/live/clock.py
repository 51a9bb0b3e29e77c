"""The clock that everything live is told the time by, so that tests need not wait.

Time inside a session is the sample count; this clock only says how much of it should have
passed, and what the wall says once, at the start.
"""

from __future__ import annotations

import time
from datetime import datetime
from typing import Protocol

__all__ = ["Clock", "SystemClock"]


class Clock(Protocol):
    """Seconds that only grow, and the time of day."""

    def seconds(self) -> float:
        """Seconds (s) since some moment; never set back."""

    def wall(self) -> datetime:
        """The time of day, with its zone."""


class SystemClock:
    """The machine's clock."""

    def seconds(self) -> float:
        return time.monotonic()

    def wall(self) -> datetime:
        return datetime.now().astimezone()
