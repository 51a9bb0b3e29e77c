"""Spoken English for the tests, and sound around it.

Most is made on the spot by two Debian programs; the demo recordings need neither.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
import soundfile as sf
import soxr

from voicelog.audio.resampling import RATE, Samples

__all__ = ["VOICES", "LoudnessDetector", "Said", "burst", "demo", "hiss", "laid", "said_in", "say"]

HISS = 3e-4
"""RMS of the faint noise under all speech here: -70 dBFS, a quiet room."""

VOICES = ("flite:slt", "flite:kal16", "flite:rms", "espeak-ng:en-us", "espeak-ng:en-gb")


def hiss(seconds: float, rms: float = HISS, seed: int = 1) -> Samples:
    """White noise, the same for the same seed."""
    rng = np.random.default_rng(seed)
    return (rms * rng.standard_normal(round(seconds * RATE))).astype(np.float32)


def burst(seconds: float, hz: float = 180.0, peak: float = 0.3) -> Samples:
    """Vowels run together: a pitch that falls a little, through formants that move.

    A detector of speech takes most of it for a voice up to about 240 Hz.
    """
    time = np.arange(round(seconds * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(hz * (1 - 0.06 * time / seconds)) / RATE
    move = 0.5 + 0.5 * np.sin(2 * np.pi * 2 * time)
    formants = ((1.0, 500 + 250 * move, 90), (0.6, 1200 + 600 * move, 120), (0.3, 2500, 160))
    voice = np.zeros(len(time))
    for k in range(1, int(4000 / hz) + 1):
        gain = sum(loud / (1 + ((k * hz - at) / width) ** 2) for loud, at, width in formants)
        voice += gain * np.sin(k * phase)
    edges = np.minimum(1, np.minimum(time, seconds - time) / 0.02)
    voice *= edges * (0.8 + 0.2 * np.cos(2 * np.pi * 4 * time))
    return (peak * voice / float(np.abs(voice).max())).astype(np.float32)


class LoudnessDetector:
    """Takes what is louder than -40 dBFS for speech: in place of one that knows voices."""

    def probability(self, frame: Samples, gain: float = 1.0, *, rumble: bool = False) -> float:
        return float(np.sqrt(np.mean(np.square(frame))) > 0.01)


class Said(NamedTuple):
    """Words in a demo recording and where they lie (s)."""

    start_s: float
    end_s: float
    words: str


DEMO = Path(__file__).parents[2] / "demo_audio"


def said_in(name: str) -> list[Said]:
    """What is said in a demo recording ("day1-bracken"), in order."""
    rows = (DEMO / name / "words.tsv").read_text("utf-8").splitlines()
    parts = (row.split("\t") for row in rows)
    return [Said(float(start), float(end), words) for start, end, words, *_ in parts]


@cache
def demo(name: str, end_s: float, start_s: float = 0.0) -> Samples:
    """A stretch of a demo recording: synthetic voices, as a file of the log would hold them."""
    with sf.SoundFile(DEMO / name / f"{name}.opus") as file:
        file.seek(round(start_s * file.samplerate))
        sound = file.read(round((end_s - start_s) * file.samplerate), dtype="float32")
        heard: Samples = soxr.resample(sound, file.samplerate, RATE)
    return heard


@cache
def _spoken(text: str, voice: str) -> Samples:
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
    heard: Samples = (0.1 * sound / np.sqrt(np.mean(np.square(sound)))).astype(np.float32)
    return heard.clip(-1, 1)


def say(text: str, voice: str = "flite:slt", edge_s: float = 0.4) -> Samples:
    """`text` at -20 dBFS RMS with `edge_s` of hiss at both ends; skips without the program."""
    return laid([(edge_s, _spoken(text, voice))], edge_s)


def laid(parts: list[tuple[float, Samples]], after_s: float = 1.0) -> Samples:
    """Sounds one after the other, each with its gap (s) before it, and hiss under all."""
    quiet = [np.pad(sound, (round(gap_s * RATE), 0)) for gap_s, sound in parts]
    sound = np.concatenate([*quiet, np.zeros(round(after_s * RATE), np.float32)])
    return (sound + hiss(len(sound) / RATE)).astype(np.float32)
