"""A phone as the microphone of a live session: its sound as it arrives, in order.

The sound lies on this machine's disk, numbered and without a gap, since a block is taken only where
the sound before it is there: where one is missing, all after it waits on the phone. What comes
faster than real time, after the phone was out of reach, is passed on only as fast as it is heard
through, so that every timer stays with what was heard.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from voicelog.audio.microphone import BlockCallbackFor
from voicelog.audio.recorder import Pcm, as_float
from voicelog.audio.resampling import RATE
from voicelog.live.sample_clock import SampleClock

__all__ = ["PhoneMicrophone", "ReadSound"]

AHEAD_S = 2.0
"""How much sound (s) may wait to be heard through before more is passed on; less than what is
called a machine that cannot follow."""
UNTAKEN = RATE // 2
"""How many samples may wait to be taken by the session before more are passed on: the clock goes
by what was passed on, and where it ran far ahead of what was taken, the microphone would seem to
be gone."""
PIECE = RATE // 10
"""Samples passed on at once, as a microphone brings them."""
WAIT_S = 0.5
LOOK_S = 0.02

ReadSound = Callable[[int, int, float], Pcm | None]
"""(number of the first sample, how many at most, how long (s) to wait for them) -> what is there of
them, none where none came in time; None once the recording is over and all was read."""


class PhoneMicrophone:
    """Passes sound on from a thread of its own, from the first sample to the last.

    `lag_s` tells how much of it (s) waits to be heard, None while nobody can hear yet; `taken` how
    many samples the session has taken; `over` is called once the last sample was passed on. It is
    opened once: it never goes away.
    """

    def __init__(
        self,
        read: ReadSound,
        clock: SampleClock,
        *,
        lag_s: Callable[[], float | None],
        taken: Callable[[], int],
        over: Callable[[], None],
    ) -> None:
        self._read, self._clock = read, clock
        self._lag_s, self._taken, self._over = lag_s, taken, over
        self._closed = threading.Event()
        self._thread: threading.Thread | None = None

    def open(self, taker_for: BlockCallbackFor, anew: bool) -> PhoneMicrophone:
        """Begin to pass sound on; see `OpenMicrophone`. `anew` changes nothing."""
        self._thread = threading.Thread(
            target=self._run, args=(taker_for,), name="phone", daemon=True
        )
        self._thread.start()
        return self

    def close(self) -> None:
        """Pass nothing more on; what was passed on stands."""
        self._closed.set()

    def _run(self, taker_for: BlockCallbackFor) -> None:
        take = taker_for(RATE)
        start = 0
        while not self._closed.is_set():
            lag_s = self._lag_s()
            if lag_s is None or lag_s > AHEAD_S or start - self._taken() > UNTAKEN:
                self._closed.wait(LOOK_S)
                continue
            pcm = self._read(start, PIECE, WAIT_S)
            if pcm is None:
                self._over()
                return
            if len(pcm):
                start += len(pcm)
                self._clock.advance(len(pcm))
                take(as_float(pcm)[:, None], False)
