"""Where in a segment something sounds, and how far it stands above the noise."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from voicelog.hearing.cleaned import mean_power
from voicelog.hearing.listener import RATE, Sound, Spectrum

__all__ = ["FRAMES", "active", "loudness_over"]

FRAMES = 100
"""Frames a second."""
_HOP = RATE // FRAMES
_OVER_NOISE = 4.0
"""Power over the noise from which a frame is active: 6 dB."""
_UNDER_LOUD = 0.01
"""A frame more than 20 dB under the loud ones (their 90th percentile) is not active."""
_QUIET = 1e-8
"""Mean square of the noise where none was heard yet."""


def active(sound: Sound, noise: Spectrum | None) -> NDArray[np.bool_]:
    """For each frame of 10 ms, whether it stands out; shape (frames,)."""
    frames = _power(sound)
    if not len(frames):
        return np.zeros(0, np.bool_)
    floor = _QUIET if noise is None else mean_power(noise)
    bar = max(_OVER_NOISE * floor, _UNDER_LOUD * float(np.percentile(frames, 90)))
    return np.asarray(frames > bar)


def loudness_over(sound: Sound, noise: Spectrum | None) -> float:
    """How far the loud frames stand above the noise (dB)."""
    frames = _power(sound)
    loud = float(np.percentile(frames, 90)) if len(frames) else 0.0
    floor = _QUIET if noise is None else mean_power(noise)
    return 10 * math.log10(max(loud, 1e-10) / max(floor, 1e-10))


def _power(sound: Sound) -> NDArray[np.float64]:
    """Mean square of each frame, smoothed over three."""
    frames = sound[: len(sound) // _HOP * _HOP].reshape(-1, _HOP).astype(np.float64)
    power = np.mean(np.square(frames), axis=1)
    return np.convolve(power, np.ones(3) / 3, "same") if len(power) >= 3 else power
