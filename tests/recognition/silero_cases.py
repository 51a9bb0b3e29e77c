"""Sounds on which Silero's own model was asked, and where what it said is kept."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.recognition.speaking import burst, demo, hiss
from voicelog.audio.resampling import RATE, Samples

__all__ = ["REFERENCE_FILE", "reference_sounds"]

REFERENCE_FILE = Path(__file__).parent / "data" / "silero_reference.json"


def reference_sounds() -> dict[str, Samples]:
    """Speech, speech in loud noise, and sounds that are none, by name; 62 s in all."""
    speech = demo("day1-bracken", 30.0)
    silence = np.zeros(RATE, np.float32)
    others = (silence, hiss(1.5, 0.05), silence, burst(1.5), burst(1.0, 600.0), silence)
    return {
        "speech": speech,
        "speech in noise": demo("day1-bracken", 25.0) + hiss(25.0, 0.03, seed=7),
        "other sounds": np.concatenate(others),
    }
