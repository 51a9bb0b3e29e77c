"""How loud a recording is, step by step, to be drawn: voices and wind told apart by their pitch.

Wind at a microphone lies below about 200 Hz, what carries the words of a voice between 200 Hz and
4 kHz (common practice, no source). The power in a band is, by Parseval's theorem, the sum of the
squared magnitudes of the step's discrete Fourier transform there: 2 / N^2 * sum |X_k|^2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import RATE

__all__ = ["FLOOR_DBFS", "STEP_S", "LoudnessStrip"]

STEP_S = 0.1
"""Seconds to a step."""
FLOOR_DBFS = -80.0
"""What is drawn as nothing, dBFS."""
_STEP = round(STEP_S * RATE)
_LOW = slice(1, round(200 * STEP_S))
_VOICE = slice(round(200 * STEP_S), round(4000 * STEP_S))


class LoudnessStrip:
    """The loudness of sound that comes in blocks."""

    def __init__(self) -> None:
        self._rest: NDArray[np.float32] = np.zeros(0, np.float32)
        self._levels = bytearray()

    def add(self, block: NDArray[np.float32]) -> None:
        """The next samples: float32, mono, `RATE` a second, full scale 1."""
        samples = np.concatenate((self._rest, block))
        steps = len(samples) // _STEP
        self._rest = samples[steps * _STEP :]
        if not steps:
            return
        spectra = np.fft.rfft(samples[: steps * _STEP].reshape(steps, _STEP), axis=1)
        power = 2 * np.abs(spectra) ** 2 / _STEP**2
        bands = np.stack((power[:, _VOICE].sum(axis=1), power[:, _LOW].sum(axis=1)), axis=1)
        dbfs = 10 * np.log10(np.maximum(bands, 10 ** (FLOOR_DBFS / 10)))
        self._levels += (np.clip(1 - dbfs / FLOOR_DBFS, 0, 1) * 255).round().astype("u1").tobytes()

    @property
    def levels(self) -> bytes:
        """Two bytes for every whole step so far, voice and low: 0 at `FLOOR_DBFS`, 255 at 0 dBFS,
        in equal steps of dB."""
        return bytes(self._levels)
