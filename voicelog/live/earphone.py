"""Sounds to one ear, one after the other; what is cancelled breaks off.

Never a loudspeaker by choice in the field: only one channel of two carries sound, since she needs
the other ear for the dog, and a dog that hears the tones would learn them. Nor by accident: when
the earphone goes away there is silence until that same one is back. At a desk there is no dog, and
both ears may hear.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import soxr

from voicelog.audio.microphone import DEVICE_LOCK, Device, find_device, find_same_device
from voicelog.audio.resampling import RATE, Samples
from voicelog.report.screen_words import EARPHONE_STUCK

__all__ = ["Earphone", "Side"]

Side = Literal["left", "right"]
_CHUNK_S = 0.05
_LATENCY_S = 0.05
CHECK_DEVICE_S = 1.0
"""Seconds between two looks whether a silent earphone is still there, or back."""
STUCK_S = 2.0
"""Seconds that a device may take for one call: a twentieth of a second of sound, or a look."""
RELEASE_S = 1.0
"""Seconds in which a device that takes no sound has to be let go of at the end."""


@dataclass(frozen=True, slots=True)
class _QueuedSound:
    sound: Samples
    key: object


class Earphone:
    """Plays from a thread of its own. What cannot be played is dropped and said in `trouble`,
    and so is what comes while the device takes no sound, or waited for that: it would be late.

    The device is opened at once (NoDeviceError where there is none), and that same one again
    after it failed. `volume` multiplies the samples, which are limited to full scale.
    `started` is called from that thread with each sound's key as its first samples are handed
    over, `seconds` is a clock that never goes back. All methods may be called from any thread.
    """

    def __init__(
        self,
        *,
        name: str | None = None,
        side: Side | Literal["both"] = "left",
        volume: float = 1.0,
        library: Any,
        started: Callable[[object], None] = lambda key: None,
        seconds: Callable[[], float] = time.monotonic,
    ) -> None:
        self.device: Device = find_device("out", name, library)
        self._trouble: str | None = None
        self._seconds = seconds
        self._busy_since_s: float | None = None
        self._library = library
        self._volume, self._side = volume, side
        self._started = started
        self._waiting: list[_QueuedSound] = []
        self._queue_changed = threading.Condition()
        self._ending = self._interrupted = False
        self._playing: _QueuedSound | None = None
        self._stream: Any = None
        self._lock = threading.Lock()
        with DEVICE_LOCK, self._lock:
            self._open_stream()
        self._thread = threading.Thread(target=self._run, name="earphone", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why nothing sounds; None where it does."""
        return EARPHONE_STUCK if self._is_stuck() else self._trouble

    def play(self, sound: Samples, key: object = None) -> None:
        """Sound it (float32, mono, at RATE) after what waits; never waits itself."""
        if self._is_stuck():
            return
        with self._queue_changed:
            self._waiting.append(_QueuedSound(sound, key))
            self._queue_changed.notify()

    def cancel(self, over: Callable[[object], bool]) -> None:
        """Break off what sounds, and forget what waits, where the key is `over`."""
        with self._queue_changed:
            self._waiting = [one for one in self._waiting if not over(one.key)]
            if self._playing is not None and over(self._playing.key):
                self._interrupted = True

    def release(self) -> None:
        """Let go of the device; the next sound opens it again."""
        with self._lock:
            self._close_stream()

    def close(self) -> None:
        """Play what waits, for up to 5 s, then let go."""
        with self._queue_changed:
            self._ending = True
            self._queue_changed.notify()
        self._thread.join(timeout=5.0)
        if self._lock.acquire(timeout=RELEASE_S):  # else it is stuck, and ends with the program
            try:
                self._close_stream()
            finally:
                self._lock.release()

    def _run(self) -> None:
        while True:
            with self._queue_changed:
                self._queue_changed.wait_for(
                    lambda: self._waiting or self._ending, timeout=CHECK_DEVICE_S
                )
                if not self._waiting and self._ending:
                    return
                self._interrupted = False
                self._playing = self._waiting.pop(0) if self._waiting else None
                item = self._playing
            if item is not None:
                self._play(item.sound, item.key)
            else:
                self._check_device()
            with self._queue_changed:
                self._playing = None

    def _play(self, sound: Samples, key: object = None) -> None:
        try:
            while not self._write(sound, key):
                pass  # it was let go of just then: devices are looked for
        except Exception as error:  # PortAudio's errors, a vanished device: not her worry now
            with self._lock:
                self._trouble = str(error)
                self._close_stream()

    def _write(self, sound: Samples, key: object) -> bool:
        """Whether there was a device to hand it to; errors where that is gone."""
        with DEVICE_LOCK, self._lock:
            if self._stream is None:
                self._open_stream()
        with self._lock:
            if self._stream is None:
                return False
            out = self._to_channels(sound)
            step = round(_CHUNK_S * self._rate)
            self._started(key)
            for start in range(0, len(out), step):
                if self._interrupted:
                    return True
                if not self._in_time(self._stream.write, out[start : start + step]):
                    return True
            self._trouble = None
            return True

    def _in_time(self, call: Callable[..., object], *given: object) -> bool:
        """Call the device; whether it came back in time. Where not, what waits is too old to be
        heard."""
        self._busy_since_s = self._seconds()
        try:
            call(*given)
            if not self._is_stuck():
                return True
        finally:
            self._busy_since_s = None
        with self._queue_changed:
            self._waiting.clear()
        return False

    def _is_stuck(self) -> bool:
        since_s = self._busy_since_s
        return since_s is not None and self._seconds() - since_s >= STUCK_S

    def _check_device(self) -> None:
        """While nothing sounds: is it still there? And once it failed: does it take silence?"""
        try:
            if self._trouble is None:
                with self._lock:
                    check = getattr(self._stream, "check", None)  # the sound server's can tell
                    if check is not None:
                        self._in_time(check)
                return
            with DEVICE_LOCK, self._lock:
                if self._stream is None:
                    self._open_stream()
            silence = self._to_channels(np.zeros(round(_CHUNK_S * RATE), np.float32))
            with self._lock:
                if self._stream is not None and self._in_time(self._stream.write, silence):
                    self._trouble = None
        except Exception as error:
            with self._lock:
                self._trouble = str(error)
                self._close_stream()

    def _to_channels(self, sound: Samples) -> Samples:
        """At the device's rate, on one channel of its two (all of one), or on both."""
        if self._rate != RATE:
            sound = soxr.resample(sound, RATE, self._rate)
        out = np.zeros((len(sound), self._channels), np.float32)
        places = {"left": [0], "right": [self._channels - 1], "both": list(range(self._channels))}
        out[:, places[self._side]] = np.clip(sound * self._volume, -1.0, 1.0)[:, np.newaxis]
        return out

    def _open_stream(self) -> None:
        self.device = find_same_device("out", self.device, self._library)
        self._rate, self._channels = self.device.rate, min(2, self.device.channels)
        self._stream = self._library.OutputStream(
            device=self.device.index,
            samplerate=self._rate,
            channels=self._channels,
            dtype="float32",
            latency=_LATENCY_S,
        )
        self._stream.start()

    def _close_stream(self) -> None:
        if self._stream is not None:
            self._stream.close(ignore_errors=True)
            self._stream = None
