"""How loud a recording is, whether it is clipped, and how far speech stands above noise.

A streaming meter in fixed memory. Frames are counted off from the first sample, so the
figures do not depend, to the last bit, on how the sound is cut into blocks.

Levels are dB re digital full scale (dBFS): peak is the largest sample, RMS is re a
full-scale *square* wave, so a full-scale sine reads -3.0103. (AES17 calls that sine
0 dBFS; its RMS figures are 3.0103 dB higher than these.)
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from voicelog.model import Sound
from voicelog.sound.mono import RATE, Samples

__all__ = ["CLIP_LEVEL", "CLIP_RUN", "LevelMeter"]

CLIP_LEVEL = 0.98
"""A sample counts as at full scale from here (-0.18 dBFS): resampling leaves the flat top
of a clipped wave rippled, not flat."""

CLIP_RUN = 3
"""Consecutive samples at full scale that make clipping; a wave that only touches full
scale stays there for one or two. (A full-scale tone under 500 Hz stays longer, and counts.)"""

_FRAME = RATE // 50  # 20 ms
_LOWEST_DB = -96  # noise of 16 bits; digital silence counts as that
_STEP_DB = 0.5
_BINS = int(-_LOWEST_DB / _STEP_DB) + 1
_FEWEST = 5  # frames that speech, and noise, must have: 0.1 s

_WINDOW = np.hanning(_FRAME + 1)[:-1]
_BAND = slice(200 * _FRAME // RATE, 7000 * _FRAME // RATE + 1)
_TO_POWER = 2 / (_FRAME * float(np.sum(_WINDOW**2)))
_CENTRES = _LOWEST_DB + _STEP_DB * np.arange(_BINS)


class LevelMeter:
    """Feed it blocks of mono sound at `RATE` with `add`, ask for `result` at any time."""

    def __init__(self) -> None:
        self._peak = 0.0
        self._energy = 0.0
        self._samples = 0
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._clipped = 0
        self._open_run = 0
        self._count = np.zeros(_BINS, dtype=np.int64)
        self._power = np.zeros(_BINS)

    def add(self, block: Samples) -> None:
        """Take in a block: float32, shape (n,), full scale -1..1; n may be 0."""
        if not len(block):
            return
        self._samples += len(block)
        self._peak = max(self._peak, float(np.max(np.abs(block))))
        self._count_clipped(np.abs(block) >= CLIP_LEVEL)
        sound = np.concatenate((self._rest, block))
        whole = len(sound) - len(sound) % _FRAME
        self._rest = sound[whole:].copy()
        for frame in sound[:whole].reshape(-1, _FRAME):
            self._add_frame(frame)

    def result(self) -> Sound:
        """The figures so far. No sample gives None throughout, digital silence no level."""
        energy = self._energy + _energy(self._rest)
        if not self._samples:
            return Sound()
        run = self._open_run if self._open_run >= CLIP_RUN else 0
        return Sound(
            peak_dbfs=20 * math.log10(self._peak) if self._peak else None,
            rms_dbfs=10 * math.log10(energy / self._samples) if energy else None,
            clipped_share=(self._clipped + run) / self._samples,
            snr_db=_speech_to_noise(self._count, self._power),
        )

    def _add_frame(self, frame: Samples) -> None:
        self._energy += _energy(frame)
        # Between 200 Hz and 7 kHz: wind, handling and DC are loud and not in the way.
        spectrum = np.fft.rfft(frame * _WINDOW)[_BAND]
        power = _TO_POWER * float(np.sum(spectrum.real**2 + spectrum.imag**2))
        level = 10 * math.log10(power) if power else _LOWEST_DB
        place = min(max(round((level - _LOWEST_DB) / _STEP_DB), 0), _BINS - 1)
        self._count[place] += 1
        self._power[place] += power

    def _count_clipped(self, full: NDArray[np.bool_]) -> None:
        edges = np.flatnonzero(np.diff(full, prepend=False, append=False))
        runs = edges[1::2] - edges[::2]
        if full[0]:
            runs[0] += self._open_run
        elif self._open_run >= CLIP_RUN:
            self._clipped += self._open_run
        self._open_run = 0
        if full[-1]:
            self._open_run, runs = int(runs[-1]), runs[:-1]
        self._clipped += int(np.sum(runs[runs >= CLIP_RUN]))


def _energy(sound: Samples) -> float:
    return float(np.sum(np.square(sound, dtype=np.float64)))


def _speech_to_noise(count: NDArray[np.int64], power: NDArray[np.float64]) -> float | None:
    """Estimated ratio of speech to noise in dB, to 0.1; None where it cannot be told.

    `count` frames and their summed `power` per level. Frames are split into a loud and a
    quiet class at the middle between the classes' mean levels (iterated from between the
    10th and the 99th percentile, so that speech may fill from 1% to 90% of the time).
    Speech is the power of the loud class less the noise, noise that of the quiet one.

    Only energy is looked at: barking counts as speech, and gusts of wind spoil the figure.
    Below 0 dB speech does not stand out from the noise's own swing, and None is given.
    """
    so_far = np.cumsum(count)
    if not so_far[-1]:
        return None
    low, high = (_CENTRES[np.searchsorted(so_far, share * so_far[-1])] for share in (0.10, 0.99))
    split = (low + high) / 2
    while True:
        loud = split < _CENTRES
        frames = int(count[loud].sum()), int(count[~loud].sum())
        if min(frames) < _FEWEST:
            return None
        means = (np.dot(count[side], _CENTRES[side]) for side in (loud, ~loud))
        middle = sum(mean / n for mean, n in zip(means, frames, strict=True)) / 2
        if np.array_equal(middle < _CENTRES, loud):
            break
        split = middle
    noise = max(power[~loud].sum() / frames[1], 10 ** (_LOWEST_DB / 10))
    speech = power[loud].sum() / frames[0] - noise
    return round(10 * math.log10(speech / noise), 1) if speech >= noise else None
