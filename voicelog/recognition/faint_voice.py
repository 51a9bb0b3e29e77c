"""How much louder a faint voice should be, so that it is found and heard as others are.

The voice activity detector finds little of speech whose loudest samples lie below -47 dBFS, as from
a microphone that is turned down, and loses its beginning and end. `DetectorGain` lifts what the
detector gets: causally, within bounds, and the same in a file as in a live session. It follows the
voice that was found last, and slowly, since a microphone is turned down for a whole session: next
to a voice of usual loudness one far away stays faint, and nothing is changed. It never lifts noise
to where noise may pass for speech. `segment_gain` lifts a faint segment for the listeners.
"""

from __future__ import annotations

import math

import numpy as np

from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.noise_reduction import mean_power
from voicelog.recognition.quick_recognizer import Spectrum

__all__ = ["DetectorGain", "segment_gain"]

PEAK_DBFS = -24.0
"""The loudest sample that sound is lifted to."""
NOISE_DBFS = -55.0
"""The noise (RMS) that it is lifted to, at most."""
MOST_DB = 24.0
"""The largest gain."""
FORGET_DB_PER_S = 0.1
"""How fast the voice counts for fainter while none is heard: 6 dB a minute; no source."""
FAINT_DBFS = -38.0
"""A segment whose loudest sample lies below is lifted."""
_SILENT = 1e-5
"""No amplitude (full scale 1) is taken for less, -100 dBFS."""


class DetectorGain:
    """The gain for the frames of one stream, in order: ask `factor`, then tell `heard`."""

    def __init__(self) -> None:
        self._voice_dbfs = -math.inf

    def factor(self, frame: Samples, noise: Spectrum | None) -> float:
        """What the detector's next frame (float32, full scale 1) is multiplied by, 1 to 16.

        noise: the power of the noise so far, as `noise_reduction.power` gives it; None before any:
        then 1. In dB, with P the loudest sample of the frame, V that of the voice so far, N the RMS
        of the noise: min(-24 - max(P, V), -55 - N, 24), and 0 at least.
        """
        if noise is None:
            return 1.0
        loudest = max(self._voice_dbfs, _peak_dbfs(frame))
        noise_dbfs = _dbfs(math.sqrt(mean_power(noise)))
        return _factor(min(PEAK_DBFS - loudest, NOISE_DBFS - noise_dbfs, MOST_DB))

    def heard(self, frame: Samples, *, speech: bool) -> None:
        """Take in whether that frame, as it was before the gain, was speech."""
        self._voice_dbfs -= FORGET_DB_PER_S * len(frame) / RATE
        if speech:
            self._voice_dbfs = max(self._voice_dbfs, _peak_dbfs(frame))


def segment_gain(sound: Samples) -> float:
    """What the sound of a segment (full scale 1) is multiplied by for the listeners: 1 unless it is
    faint, then up to 16, so that its loudest sample comes to -24 dBFS at most."""
    peak_dbfs = _peak_dbfs(sound)
    return _factor(min(PEAK_DBFS - peak_dbfs, MOST_DB)) if peak_dbfs < FAINT_DBFS else 1.0


def _factor(gain_db: float) -> float:
    return float(10 ** (max(gain_db, 0.0) / 20))


def _peak_dbfs(sound: Samples) -> float:
    return _dbfs(float(np.abs(sound).max(initial=0.0)))


def _dbfs(amplitude: float) -> float:
    return 20 * math.log10(max(amplitude, _SILENT))
