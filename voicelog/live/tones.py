"""The tones: short sounds of our own, soft-edged, told apart by pitch, length and number.

Higher and shorter is better news. The pitches lie away from a whistle's (3 kHz and up) and
are quiet; a dog that hears them would learn them, so they belong in one ear.
"""

from __future__ import annotations

import numpy as np

from voicelog.audio.resampling import RATE, Samples
from voicelog.live.outputs import ToneKind

__all__ = ["tone", "tone_s"]

_PEAK = 0.25
_EDGE_S = 0.008

_PARTS: dict[ToneKind, tuple[tuple[float, float, float], ...]] = {
    "accepted": ((660.0, 0.09, 1.0),),
    "doubtful": ((330.0, 0.11, 1.0), (0.0, 0.08, 0.0), (330.0, 0.11, 1.0)),
    "not understood": ((220.0, 0.45, 1.0),),
    "listening": ((880.0, 0.015, 0.25),),
    "waiting": ((440.0, 0.03, 0.5),),
    "stop": ((262.0, 0.09, 1.0), (0.0, 0.03, 0.0)) * 3,
    "warning": ((520.0, 0.25, 1.0), (0.0, 0.1, 0.0), (390.0, 0.25, 1.0)),
}
"""Of each tone: pitch (Hz; 0 is a pause), length (s), loudness."""


def tone(kind: ToneKind) -> Samples:
    """The sound of a tone: float32 mono at RATE."""
    return np.concatenate([_part(*part) for part in _PARTS[kind]])


def tone_s(kind: ToneKind) -> float:
    """How long a tone lasts (s)."""
    return sum(seconds for _, seconds, _ in _PARTS[kind])


def _part(hz: float, seconds: float, loudness: float) -> Samples:
    time = np.arange(round(seconds * RATE)) / RATE
    edge = np.clip(np.minimum(time, time[::-1]) / min(_EDGE_S, seconds / 2), 0.0, 1.0)
    # A little of the octave makes low tones audible in small earphones.
    wave = np.sin(2 * np.pi * hz * time) + 0.3 * np.sin(4 * np.pi * hz * time)
    return (_PEAK * loudness * edge * wave / 1.3).astype(np.float32)
