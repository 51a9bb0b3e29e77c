"""Takes the rumble of wind, and what else is deep, from what the voice activity detector gets.

Wind blows a microphone's membrane about, mostly below 100 Hz, and in gusts far more than a voice
does. The detector then misses how a note begins, and what is left may pass for another note. A
voice has enough above 200 Hz to be found by, so where the noise is a rumble, nothing of what lies
below is put before the detector. The listeners get the sound as it is.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.noise_reduction import FFT_LENGTH
from voicelog.recognition.quick_recognizer import Spectrum

__all__ = ["CUTOFF_HZ", "RumbleFilter", "rumbles"]

CUTOFF_HZ = 200.0
"""Half of the power is left here. Of 96 orders by people in gusts at -10 dB (tuning half) 82 lay
whole in a segment without the filter, 89 with one of second order, 94 with this one."""
_QUALITY = (1 / (2 * math.sin(math.pi / 8)), 1 / (2 * math.sin(3 * math.pi / 8)))
"""Of the two sections that make a Butterworth filter of fourth order: 1.307 and 0.541."""
MOSTLY = 2.0
"""How much more of the noise's power lies below CUTOFF_HZ than above it, in a rumble: in gusts 70
times (median), in wind on the narrations 4.5, at a made quad bike 2.5; in a room 0.5, in pink noise
0.7, in a kitchen 0.2."""
_DEEP_BINS = math.ceil(CUTOFF_HZ * FFT_LENGTH / RATE)
_TAPS = 1024
"""Samples of the impulse response that are kept; less than 1e-20 of its energy is left out."""


def rumbles(noise: Spectrum | None) -> bool:
    """Whether most of the power of the noise so far (`noise_reduction.power`) is a rumble's."""
    if noise is None:
        return False
    deep = float(noise[:_DEEP_BINS].sum())
    return deep > MOSTLY * float(noise[_DEEP_BINS:].sum())


class RumbleFilter:
    """A high-pass filter for the frames of one stream, in order: Butterworth, fourth order (-24 dB
    an octave below CUTOFF_HZ), minimum phase, by overlap-save (Stockham, AFIPS 1966)."""

    def __init__(self) -> None:
        self._before = np.zeros(_TAPS, np.float32)

    def next(self, frame: Samples, *, rumble: bool) -> Samples:
        """The next frame of the stream, float32: without what is deep if there is a rumble, else as
        it is. ValueError for one of more than 1,024 samples."""
        if len(frame) > _TAPS:
            raise ValueError(f"Found a frame of {len(frame)} samples, wanted {_TAPS} at most.")
        sound = np.concatenate((self._before, frame))
        self._before = sound[len(frame) :]
        if not rumble:
            return frame
        held = np.fft.irfft(np.fft.rfft(sound, 2 * _TAPS) * _response(), 2 * _TAPS)
        return np.asarray(held[_TAPS : _TAPS + len(frame)], np.float32)


@lru_cache(maxsize=1)
def _response() -> NDArray[np.complex128]:
    """The transform of the impulse response, zero-padded to twice its length."""
    return np.fft.rfft(_impulse_response(), 2 * _TAPS)


def _impulse_response() -> NDArray[np.float64]:
    """What the two sections make of a click of 1, _TAPS samples of it.

    A section, by the bilinear transform, with w = 2 pi CUTOFF_HZ / RATE and a = sin w / (2 Q):

        y(n) = (1 + cos w) / 2 * (x(n) - 2 x(n-1) + x(n-2)) + 2 cos w * y(n-1) - (1 - a) * y(n-2)

    all but y(n) divided by 1 + a.
    """
    sound = [1.0, *[0.0] * (_TAPS - 1)]
    turn = 2 * math.pi * CUTOFF_HZ / RATE
    for quality in _QUALITY:
        alpha = math.sin(turn) / (2 * quality)
        gain, one, two = (
            value / (1 + alpha)
            for value in ((1 + math.cos(turn)) / 2, 2 * math.cos(turn), -(1 - alpha))
        )
        made = [0.0, 0.0]
        for at, now in enumerate(sound):
            last, before = (sound[at - back] if at >= back else 0.0 for back in (1, 2))
            made.append(gain * (now - 2 * last + before) + one * made[-1] + two * made[-2])
        sound = made[2:]
    return np.array(sound)
