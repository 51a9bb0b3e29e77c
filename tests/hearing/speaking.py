"""Spoken English for the tests, made on the spot by two Debian programs, and sound around it."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
import soxr

from voicelog.hearing.listener import RATE, Sound

__all__ = ["VOICES", "burst", "hiss", "laid", "say"]

HISS = 3e-4
"""RMS of the faint noise under all speech here: -70 dBFS, a quiet room."""

VOICES = ("flite:slt", "flite:kal16", "flite:rms", "espeak-ng:en-us", "espeak-ng:en-gb")


def hiss(seconds: float, rms: float = HISS, seed: int = 1) -> Sound:
    """White noise, the same for the same seed."""
    rng = np.random.default_rng(seed)
    return (rms * rng.standard_normal(round(seconds * RATE))).astype(np.float32)


def burst(seconds: float, hz: float = 180.0, peak: float = 0.3) -> Sound:
    """A buzz like a held vowel: ten harmonics, with a voice's slow rise and fall."""
    time = np.arange(round(seconds * RATE)) / RATE
    buzz = sum(np.sin(2 * np.pi * hz * k * time) / k for k in range(1, 11))
    swell = 0.6 + 0.4 * np.sin(2 * np.pi * 4 * time)
    return (peak * swell * buzz / np.abs(buzz).max()).astype(np.float32)


@cache
def _spoken(text: str, voice: str) -> Sound:
    program, _, name = voice.partition(":")
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed; apt-get install {program}")
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "said.wav"
        how = {
            "flite": ["flite", "-voice", name, "-t", text, str(wav)],
            "espeak-ng": ["espeak-ng", "-v", name, "-w", str(wav), text],
        }[program]
        subprocess.run(how, check=True, capture_output=True)
        sound, rate = sf.read(wav, dtype="float32")
    sound = soxr.resample(sound, rate, RATE)
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    sound = sound[loud[0] : loud[-1] + 1]
    return (0.1 * sound / np.sqrt(np.mean(np.square(sound)))).astype(np.float32).clip(-1, 1)


def say(text: str, voice: str = "flite:slt", edge_s: float = 0.4) -> Sound:
    """`text` at -20 dBFS RMS with `edge_s` of hiss at both ends; skips without the program."""
    return laid([(edge_s, _spoken(text, voice))], edge_s)


def laid(parts: list[tuple[float, Sound]], after_s: float = 1.0) -> Sound:
    """Sounds one after the other, each with its gap (s) before it, and hiss under all."""
    quiet = [np.pad(sound, (round(gap_s * RATE), 0)) for gap_s, sound in parts]
    sound = np.concatenate([*quiet, np.zeros(round(after_s * RATE), np.float32)])
    return (sound + hiss(len(sound) / RATE)).astype(np.float32)
