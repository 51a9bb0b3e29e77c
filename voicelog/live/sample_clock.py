"""A clock that only sound moves: of a session whose microphone is far away and may bring its sound
late, in spurts, or after an hour. All timers of such a session go by the samples that came."""

from __future__ import annotations

from datetime import datetime, timedelta

from voicelog.audio.resampling import RATE

__all__ = ["SampleClock"]


class SampleClock:
    """The clock of a recording that began at `began` (aware): its seconds are those of the sound
    that was passed on. It stands still while nothing comes; nobody sets it, and it never sleeps."""

    def __init__(self, began: datetime) -> None:
        self._began = began
        self.samples = 0

    def advance(self, samples: int) -> None:
        """So many more samples (at RATE) are passed on."""
        self.samples += samples

    def seconds(self) -> float:
        return self.samples / RATE

    def slept_s(self) -> float:
        return 0.0

    def wall(self) -> datetime:
        return self._began + timedelta(seconds=self.seconds())
