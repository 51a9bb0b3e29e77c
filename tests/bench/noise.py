"""Noise for the benchmarks: made noises, and recordings out of Debian packages.

Made, in any amount, by seed: `pink`, `wind` (gusts: low-passed, slowly modulated), `babble`
(six talkers of the split's talk), `barks` (bursts like a dog's, nothing between).
Recorded: `real`, one subject of REAL for each narration in turn; no recording is in two splits.

conditions.py puts them under speech; field_noise.py has more that are made.
"""

from __future__ import annotations

import io
import struct
import zlib
from functools import cache
from pathlib import Path

import numpy as np
import soundfile as sf
import soxr
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

from tests.bench.talk import sentences
from tests.bench.voices import RATE, available

__all__ = ["MADE", "REAL", "barks", "make", "one_bark", "pink", "slow_curve", "unit_rms", "wind"]

Sound = NDArray[np.float32]
MADE = ("pink", "wind", "babble", "barks")
GCOMPRIS = Path("/usr/share/gcompris-qt/rcc")
TUXPAINT = Path("/usr/share/tuxpaint/stamps")
LINCITY = Path("/usr/share/games/lincity-ng/sounds")
REAL = {
    "tune": {
        "dogs": "gcompris:memory-sound/LRBark_1_LA_cut",
        "traffic": "lincity:TraficHigh1 lincity:TraficLow1 lincity:DirtTrack1",
        "birds": "tuxpaint:animals/birds/blackbird tuxpaint:animals/birds/crow lincity:Green1",
        "rain": "gcompris:memory-sound/LRRain_in_garden_01_LA_cut",
        "sheep": "gcompris:explore_farm_animals/sheep gcompris:explore_farm_animals/cow",
        "crowd": "lincity:SportsCroud1 lincity:School1",
        "engine": "gcompris:guessnumber/helicopter lincity:RailTrain1",
    },
    "test": {
        "dogs": "gcompris:memory-sound/LRBark_3_LA_cut",
        "traffic": "lincity:TraficHigh2 lincity:TraficLow2 lincity:DirtTrack2",
        "birds": "tuxpaint:animals/birds/lark tuxpaint:animals/birds/seagull"
        " tuxpaint:animals/birds/rooster lincity:Green2",
        "rain": "gcompris:memory-sound/LRFrogsInPondDuringStormLACut",
        "sheep": "tuxpaint:animals/mammals/bovines/sheep"
        " tuxpaint:animals/mammals/bovines/sheep_lamb tuxpaint:animals/mammals/equines/horse",
        "crowd": "lincity:SportsCroud2 lincity:School2",
        "engine": "gcompris:memory-sound/LRTrain_slowing_down_01_LA_cut lincity:RailTrain2",
    },
    "fresh": {
        "dogs": "gcompris:explore_farm_animals/dog tuxpaint:animals/mammals/dogs/dog",
        "traffic": "lincity:TraficHigh3 lincity:TraficLow3 lincity:DirtTrack3",
        "birds": "tuxpaint:animals/birds/cuckoo tuxpaint:animals/birds/turkey"
        " tuxpaint:animals/birds/hen lincity:Green3",
        "rain": "lincity:Water1 lincity:Water3 gcompris:canal_lock/water_fill",
        "sheep": "tuxpaint:animals/mammals/bovines/ram tuxpaint:animals/mammals/bovines/goat"
        " tuxpaint:animals/mammals/bovines/bull",
        "crowd": "lincity:SportsCroud3 lincity:School3",
        "engine": "gcompris:memory-sound/LRStartAndStopCarEngine1LACut lincity:RailTrain3",
    },
}
STEADY = ("traffic", "rain", "crowd", "engine")  # looped without a gap
PACKAGES = {"gcompris": "gcompris-qt-data", "tuxpaint": "tuxpaint-stamps-default",
            "lincity": "lincity-ng-data"}  # fmt: skip
ZLIB, FOLDER = 1, 2  # flags of a node in a Qt resource


def pink(count: int, rng: np.random.Generator) -> Sound:
    """Noise with equal power per octave from 20 Hz up; count samples, RMS 1."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1 / RATE)
    shape = np.where(frequency < 20, 0.0, 1 / np.sqrt(np.maximum(frequency, 20)))
    return unit_rms(np.fft.irfft(spectrum * shape, count))


def wind(count: int, rng: np.random.Generator) -> Sound:
    """Gusts on a microphone: a strong rumble under 200 Hz, a weaker rush under 1 kHz."""
    rumble = sosfilt(butter(2, 180, fs=RATE, output="sos"), rng.standard_normal(count))
    rush = sosfilt(butter(2, 1_000, fs=RATE, output="sos"), rng.standard_normal(count))
    gust = slow_curve(count, rng, 0.35) ** 2
    flutter = 0.6 + 0.4 * slow_curve(count, rng, 4.0)
    return unit_rms((rumble / rumble.std() + 0.18 * rush / rush.std()) * (0.15 + gust) * flutter)


def babble(count: int, rng: np.random.Generator, split: str) -> Sound:
    """Six talkers at once, each saying sentences of the split's talk end to end.

    From forty sentences and without the slowest engine, so that all of it is soon cached.
    """
    voices = [voice for voice in available(split) if voice.engine != "kokoro"]
    said = sentences(split)[:40]
    total = np.zeros(count, dtype=np.float32)
    for talker in rng.permutation(len(voices))[:6]:
        at = -int(rng.integers(RATE))
        while at < count:
            sound = voices[talker].sound(said[int(rng.integers(len(said)))])
            begin, end = max(0, at), min(count, at + len(sound))
            total[begin:end] += sound[begin - at : end - at]
            at += len(sound) + int(rng.integers(RATE // 3))
    return unit_rms(total)


def barks(count: int, rng: np.random.Generator) -> Sound:
    """Groups of one to five bursts like barks, 1 to 7 s of nothing between groups."""
    total = np.zeros(count, dtype=np.float32)
    at = int(rng.uniform(0.2, 2.0) * RATE)
    while at < count:
        pitch = rng.uniform(350, 700)
        for _ in range(int(rng.integers(1, 6))):
            bark = one_bark(rng, pitch * rng.uniform(0.93, 1.07))[: max(0, count - at)]
            total[at : at + len(bark)] += bark * np.float32(rng.uniform(0.6, 1.0))
            at += int(rng.uniform(0.28, 0.55) * RATE)
        at += int(rng.uniform(1.0, 7.0) * RATE)
    return unit_rms(total)


def recorded(subject: str, count: int, rng: np.random.Generator, split: str) -> Sound:
    """A recorded noise; one-off sounds come 1 to 6 s apart, steady ones are looped.

    Raises FileNotFoundError with the package's name when it is not installed.
    """
    clips = [_clip(name) for name in REAL[split][subject].split()]
    total = np.zeros(count, dtype=np.float32)
    at = 0
    while at < count:
        clip = clips[int(rng.integers(len(clips)))][: count - at]
        total[at : at + len(clip)] += clip
        at += len(clip) + (0 if subject in STEADY else int(rng.uniform(1.0, 6.0) * RATE))
    return unit_rms(total)


@cache
def _clip(name: str) -> Sound:
    """A recording by package and place in it, mono at RATE, at RMS 1 over its sounding parts."""
    package, _, place = name.partition(":")
    resource, _, stem = place.partition("/")
    path = {
        "gcompris": GCOMPRIS / f"{resource}.rcc",
        "tuxpaint": TUXPAINT / f"{place}.ogg",
        "lincity": LINCITY / f"{place}.wav",
    }[package]
    if not path.exists():
        raise FileNotFoundError(f"{path} is not there; apt-get install {PACKAGES[package]}")
    if package == "gcompris":
        (sound,) = _sounds(path.read_bytes(), [stem])
        return unit_rms(sound)
    samples, rate = sf.read(path, dtype="float32", always_2d=True)
    return unit_rms(soxr.resample(samples.mean(axis=1), rate, RATE))


def make(kind: str, count: int, rng: np.random.Generator, split: str) -> Sound:
    """A made noise or a subject of REAL, count samples at RATE."""
    if kind in REAL[split]:
        return recorded(kind, count, rng, split)
    if kind == "babble":
        return babble(count, rng, split)
    return {"pink": pink, "wind": wind, "barks": barks}[kind](count, rng)


def unit_rms(sound: NDArray[np.floating]) -> Sound:
    """The sound with RMS 1 over its sounding parts (all of it, for a steady noise)."""
    sounding = np.abs(sound) > 0.01 * np.abs(sound).max()
    return np.asarray(sound / np.sqrt(np.mean(sound[sounding] ** 2)), dtype=np.float32)


def slow_curve(count: int, rng: np.random.Generator, hertz: float) -> NDArray[np.float64]:
    """A random curve between 0 and 1 that moves about `hertz` times a second."""
    points = rng.uniform(0, 1, int(count / RATE * hertz) + 4)
    places = np.arange(count) / RATE * hertz
    return np.interp(places, np.arange(len(points)), points)


def one_bark(rng: np.random.Generator, pitch: float) -> NDArray[np.float64]:
    """One burst of 0.12 to 0.25 s: a falling harmonic tone with breath, quick in, slow out."""
    count = int(rng.uniform(0.12, 0.25) * RATE)
    time = np.arange(count) / RATE
    sweep = pitch * (1 + 0.25 * np.exp(-time * 25)) * (1 - 0.8 * time)
    phase = 2 * np.pi * np.cumsum(sweep) / RATE
    tone = sum(np.sin(k * phase) / k**0.7 for k in range(1, 8))
    breath = lfilter([1, -0.9], [1], rng.standard_normal(count))
    envelope = np.minimum(time / 0.012, 1) * np.exp(-time * 12)
    return np.asarray((tone + 0.8 * breath) * envelope)


def _sounds(resource: bytes, wanted: list[str]) -> list[Sound]:
    """Sounds of a compiled Qt resource (.rcc) by their names, without ending."""
    _version, tree, data, names = struct.unpack(">4I", resource[4:20])
    sounds = []
    for at in range(tree, len(resource) - 21, 22):  # a node: 14 bytes and a time stamp of 8
        name_at, flags = struct.unpack(">IH", resource[at : at + 6])
        letters = int.from_bytes(resource[names + name_at : names + name_at + 2], "big")
        spelled = resource[names + name_at + 6 : names + name_at + 6 + 2 * letters]
        stem, _, ending = spelled.decode("utf-16-be", "replace").rpartition(".")
        if flags & FOLDER or stem not in wanted or ending not in ("ogg", "wav"):
            continue
        blob_at = data + int.from_bytes(resource[at + 10 : at + 14], "big")
        size = int.from_bytes(resource[blob_at : blob_at + 4], "big")
        blob = resource[blob_at + 4 : blob_at + 4 + size]
        if flags & ZLIB:
            blob = zlib.decompress(blob[4:])
        samples, rate = sf.read(io.BytesIO(blob), dtype="float32", always_2d=True)
        sounds.append(soxr.resample(samples.mean(axis=1), rate, RATE))
    return sounds
