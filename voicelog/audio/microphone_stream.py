"""A microphone's sound as recognizers take it: mono at 16 kHz, in blocks or by seconds."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import Any, Self

import numpy as np

from voicelog.audio.microphone import Microphone, StreamResampler
from voicelog.audio.resampling import Samples

__all__ = ["MicrophoneStream"]


class MicrophoneStream:
    """An open microphone; leave its context to let go of it.

    `library` is PortAudio, `name` a part of the device's name (None: the system's), `rate` what
    to ask it for (Hz). Raises DeviceError where it cannot be opened.
    """

    def __init__(self, library: Any, *, name: str | None = None, rate: int | None = None) -> None:
        self._taken: queue.SimpleQueue[Samples] = queue.SimpleQueue()
        self._microphone = Microphone(self._taker, name=name, rate=rate, library=library)
        self._resampler = StreamResampler(self._microphone.rate, self._microphone.channels)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._microphone.close()

    @property
    def name(self) -> str:
        """The device's name."""
        return self._microphone.device.name

    @property
    def rate(self) -> int:
        """The rate that the device gives (Hz)."""
        return self._microphone.rate

    def blocks(self, patience_s: float) -> Iterator[Samples]:
        """Sound as it comes, until none has come for so long (s)."""
        waited_s = 0.0
        while waited_s < patience_s:
            try:
                block = self._resampler.push(self._taken.get(timeout=1.0))
            except queue.Empty:
                waited_s += 1.0
                continue
            waited_s = 0.0
            yield block

    def record(self, seconds: float) -> Samples:
        """The next seconds of sound; the microphone is closed then."""
        time.sleep(seconds)
        self._microphone.close()
        blocks = []
        while not self._taken.empty():
            blocks.append(self._resampler.push(self._taken.get()))
        return np.concatenate([*blocks, self._resampler.finish()])

    def _taker(self, _rate: int) -> Callable[[Samples, bool], None]:
        return lambda sound, _lost: self._taken.put(sound)
