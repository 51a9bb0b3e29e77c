"""From the microphone's thread to the disk and to recognition, in one thread that may wait.

Blocks come in through a queue that never blocks its filler. A gap (a cable pulled out) is
filled with silence, so that the sample count stays the time.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from voicelog.audio.microphone import StreamResampler
from voicelog.audio.recorder import Pcm, as_pcm
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.clock import Clock
from voicelog.live.microphone_monitor import BlockLevel, block_level

__all__ = ["CaptureThread", "CapturedBlock"]

GAP_S = 0.5
"""A pause between blocks longer than this (s) is sound that was lost."""
LONGEST_GAP_S = 3600.0
"""More silence than this (s) is not filled in: a night is no session."""


@dataclass(frozen=True, slots=True)
class CapturedBlock:
    """What a device brought: shape (n, channels), its rate (Hz), when (s), what was lost."""

    sound: Samples
    rate: int
    at_s: float
    lost: bool = False


class CaptureThread:
    """Runs from `start` to `stop`; what comes before waits.

    From its thread `on_samples` gets every sample, in order, as int16 mono at RATE; `on_level`
    the time at which each block came (s on the clock) and its level; `on_change` that the device
    brings another rate or other channels than before; `on_error` an error that
    ended it. `samples` is how many were passed on, `first_s` when the first was taken (s on the
    clock), None before that.
    """

    def __init__(
        self,
        *,
        on_samples: Callable[[Pcm], None],
        on_level: Callable[[float, BlockLevel], None],
        on_change: Callable[[], None],
        on_error: Callable[[Exception], None],
        clock: Clock,
    ) -> None:
        self.first_s: float | None = None
        self.samples = 0
        self._on_samples, self._on_level, self._on_error = on_samples, on_level, on_error
        self._on_change = on_change
        self._clock = clock
        self._blocks: queue.SimpleQueue[CapturedBlock | None] = queue.SimpleQueue()
        self._converter: StreamResampler | None = None
        self._shape = (0, 0)
        self._end_s = 0.0
        self._thread = threading.Thread(target=self._run, name="sound", daemon=True)

    def start(self) -> None:
        """Begin to pass sound on."""
        self._thread.start()

    def block_callback(self, rate: int) -> Callable[[Samples, bool], None]:
        """What a microphone of that rate (Hz) calls with its blocks; it never waits."""

        def take(sound: Samples, lost: bool) -> None:
            self._blocks.put(CapturedBlock(sound, rate, self._clock.seconds(), lost))

        return take

    def stop(self) -> None:
        """Take no more sound, and wait until all of it was passed on."""
        self._blocks.put(None)
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            while (block := self._blocks.get()) is not None:
                self._convert(block)
            if self._converter is not None:
                self._emit(self._converter.finish())
        except Exception as error:  # told to the main thread, which decides
            self._on_error(error)

    def _convert(self, block: CapturedBlock) -> None:
        seconds = len(block.sound) / block.rate
        if self.first_s is None:
            self.first_s = block.at_s - seconds
        else:
            gap_s = block.at_s - seconds - self._end_s
            if GAP_S < gap_s < LONGEST_GAP_S:
                self._emit(np.zeros(round(gap_s * RATE), np.float32))
        self._end_s = block.at_s
        shape = block.rate, block.sound.shape[1]
        if self._converter is None or shape != self._shape:
            if self._converter is not None:
                self._emit(self._converter.finish())
                self._on_change()
            self._converter, self._shape = StreamResampler(*shape), shape
        self._emit(self._converter.push(block.sound))
        self._on_level(block.at_s, block_level(block.sound, seconds))

    def _emit(self, sound: Samples) -> None:
        if not len(sound):
            return
        pcm = as_pcm(sound)
        self.samples += len(pcm)
        self._on_samples(pcm)
