"""How loud a recording is, whether it is clipped, and how far speech stands above noise.

A streaming meter in fixed memory. It works through whole seconds from the first sample, so
the figures do not depend, to the last bit, on how the sound is cut into blocks.

Levels are dB re digital full scale (dBFS): peak is the largest sample, RMS is re a
full-scale *square* wave (dBov in ITU-T G.100.1), so a full-scale sine reads -3.0103.
(AES17 calls that sine 0 dBFS; its RMS figures are 3.0103 dB higher than these.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import RATE, Samples
from voicelog.model import SoundLevel

__all__ = ["CLIP_LEVEL", "CLIP_RUN", "LevelMeter"]

CLIP_LEVEL = 0.98
"""A sample counts as at full scale from here (-0.18 dBFS): resampling leaves the flat top
of a clipped wave rippled, not flat."""

CLIP_RUN = 3
"""Consecutive samples at full scale that make clipping; a wave that only touches full
scale stays there for one or two. (A full-scale tone under 500 Hz stays longer, and counts.)"""

_FRAME = RATE // 50  # 20 ms
_LOWEST_DB = -96  # noise of 16 bits; digital silence counts as that
_LOWEST_POWER = 10 ** (_LOWEST_DB / 10)
_STEP_DB = 0.5
_BINS = int(-_LOWEST_DB / _STEP_DB) + 1
_FEWEST = 5  # frames that speech, and noise, must have: 0.1 s

_WINDOW = np.hanning(_FRAME + 1)[:-1]
_BAND = slice(200 * _FRAME // RATE, 7000 * _FRAME // RATE + 1)
_TO_POWER = 2 / (_FRAME * float(np.sum(_WINDOW**2)))
_NOTHING: Samples = np.zeros(0, dtype=np.float32)
_CENTRES = _LOWEST_DB + _STEP_DB * np.arange(_BINS)


class LevelMeter:
    """Feed it blocks of mono sound at `RATE` with `add`, ask for `result` at any time."""

    def __init__(self) -> None:
        self._peak = 0.0
        self._samples = 0
        self._clipped = 0
        self._open_run = 0
        self._tally = _EnergySums.of(_NOTHING)  # of all whole seconds so far
        self._rest = _NOTHING

    def add(self, block: Samples) -> None:
        """Take in a block: float32, shape (n,), full scale -1..1; n may be 0."""
        if not len(block):
            return
        size = np.abs(block)
        self._samples += len(block)
        self._peak = max(self._peak, float(np.max(size)))
        self._count_clipped(size >= CLIP_LEVEL)
        sound = np.concatenate((self._rest, block))
        whole = len(sound) - len(sound) % RATE
        for start in range(0, whole, RATE):
            self._tally += _EnergySums.of(sound[start : start + RATE])
        self._rest = sound[whole:].copy()

    def result(self) -> SoundLevel:
        """The figures so far. No sample gives None throughout, digital silence no level."""
        if not self._samples:
            return SoundLevel()
        tally = self._tally + _EnergySums.of(self._rest)
        run = self._open_run if self._open_run >= CLIP_RUN else 0
        return SoundLevel(
            peak_dbfs=20 * math.log10(self._peak) if self._peak else None,
            rms_dbfs=10 * math.log10(tally.energy / self._samples) if tally.energy else None,
            clipped_share=(self._clipped + run) / self._samples,
            snr_db=_speech_to_noise(tally),
        )

    def _count_clipped(self, full: NDArray[np.bool_]) -> None:
        """Add the samples of each run of at least CLIP_RUN that has ended; one that reaches the
        block's end stays open. full: which samples of the block are at full scale, shape (n,),
        n > 0."""
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


@dataclass(frozen=True)
class _EnergySums:
    """Sums over a stretch of sound: its energy, and its whole frames by their level."""

    energy: float
    count: NDArray[np.int64]
    """Frames per level, shape (_BINS,)."""
    power: NDArray[np.float64]
    """Their summed power between 200 Hz and 7 kHz; wind, handling and DC lie below."""

    @classmethod
    def of(cls, sound: Samples) -> _EnergySums:
        """The sums of a stretch (full scale 1); energy is the sum of squares of all samples.

        The power of a frame x of N = 320 samples under a Hann window w (periodogram, P. D. Welch,
        IEEE Trans. Audio and Electroacoustics 15, 1967): 2 / (N * sum w^2) * sum of |X(k)|^2 over
        the bins from 200 Hz to 7 kHz, which is the mean square of what lies there; its level is
        10 log10 of that in dBFS, to the nearest half dB, from -96 to 0.
        """
        frames = sound[: len(sound) - len(sound) % _FRAME].reshape(-1, _FRAME)
        spectrum = np.fft.rfft(frames * _WINDOW)[:, _BAND]
        power = _TO_POWER * np.sum(spectrum.real**2 + spectrum.imag**2, axis=1)
        level = 10 * np.log10(np.maximum(power, _LOWEST_POWER))
        place = np.minimum(np.rint((level - _LOWEST_DB) / _STEP_DB).astype(int), _BINS - 1)
        return cls(
            energy=float(np.sum(np.square(sound, dtype=np.float64))),
            count=np.bincount(place, minlength=_BINS),
            power=np.bincount(place, weights=power, minlength=_BINS).astype(np.float64),
        )

    def __add__(self, other: _EnergySums) -> _EnergySums:
        return _EnergySums(
            self.energy + other.energy, self.count + other.count, self.power + other.power
        )


def _speech_to_noise(tally: _EnergySums) -> float | None:
    """Estimated ratio of speech to noise in dB, to 0.1; None where it cannot be told.

    Frames are split into a loud and a quiet class at the middle between the classes' mean
    levels (T. W. Ridler and S. Calvard, IEEE Trans. Systems, Man and Cybernetics 8, 1978;
    iterated from between the 10th and the 99th percentile, so that speech may fill
    from 1% to 90% of the time). With L and Q the mean power of the loud and the quiet class it is
    10 log10((L - Q) / Q). Speech is the power of the loud class less the noise,
    noise that of the quiet one.

    Only energy is looked at: barking counts as speech, and gusts of wind spoil the figure.
    Below 0 dB speech does not stand out from the noise's own swing, and None is given.
    """
    count, power = tally.count, tally.power
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
    noise = max(power[~loud].sum() / frames[1], _LOWEST_POWER)
    speech = power[loud].sum() / frames[0] - noise
    return round(10 * math.log10(speech / noise), 1) if speech >= noise else None
