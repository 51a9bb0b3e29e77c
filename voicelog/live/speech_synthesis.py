"""Words to sound, offline.

The best one found speaks: eSpeak NG from a Python package with its data (`voicelog[voice]`,
GPL-3.0-or-later, Linux, macOS and Windows), else what the system has: `say` on macOS, SAPI
on Windows, the programs espeak-ng or flite. A few milliseconds a phrase, nothing is kept.
"""

from __future__ import annotations

import ctypes
import io
import shutil
import subprocess
import sys
import tempfile
import wave
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import soxr

from voicelog.audio.resampling import RATE, Samples

__all__ = ["SpeechSynthesizer", "find_voice"]

_PEAK = 0.5
_WORDS_A_MINUTE = 165
_TIMEOUT_S = 5.0

Speak = Callable[[str], tuple[Samples, int]]
"""Words -> (mono samples, their rate in Hz)."""


class SpeechSynthesizer:
    """Words to sound. `name` says who speaks; `speak` makes the sound of words that are new."""

    def __init__(self, name: str, speak: Speak) -> None:
        self.name = name
        self._speak = speak
        self._made = lru_cache(maxsize=256)(self._make)  # what failed is tried again

    def sound(self, words: str) -> Samples:
        """The words as float32 mono at RATE, without silence at the ends; empty where it failed."""
        try:
            return self._made(words)
        except (OSError, subprocess.SubprocessError, wave.Error, ValueError):
            return np.zeros(0, np.float32)

    def _make(self, words: str) -> Samples:
        spoken, rate = self._speak(words)
        loud = np.flatnonzero(np.abs(spoken) > 0.01)
        if not len(loud):
            raise ValueError("nothing was spoken")
        spoken = spoken[loud[0] : loud[-1] + 1]
        sound = soxr.resample(spoken, rate, RATE) if rate != RATE else spoken
        return (_PEAK * sound / max(float(np.abs(sound).max()), 1e-6)).astype(np.float32)


def find_voice() -> SpeechSynthesizer | None:
    """The best voice here, or None."""
    for find in (_bundled, _mac, _windows, _espeak, _flite):
        voice = find()
        if voice is not None:
            return voice
    return None


def _bundled() -> SpeechSynthesizer | None:
    try:
        import espeakng_loader  # an extra
    except ImportError:
        return None
    try:
        library = ctypes.CDLL(espeakng_loader.get_library_path())
        engine = _Engine(library, espeakng_loader.get_data_path())
    except (OSError, RuntimeError):
        return None
    return SpeechSynthesizer("eSpeak NG", engine.speak)


class _Engine:
    """eSpeak NG's library: one voice, one phrase at a time."""

    _SYNCHRONOUS, _NO_EXIT, _UTF8, _RATE = 2, 0x8000, 1, 1

    def __init__(self, library: ctypes.CDLL, data: str) -> None:
        self._library = library
        self._parts: list[Samples] = []
        handler = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
        )
        self._handler = handler(self._take)  # must live as long as the library may call it
        library.espeak_SetVoiceByName.argtypes = [ctypes.c_char_p]
        library.espeak_Initialize.argtypes = [
            ctypes.c_int,
            ctypes.c_int,
            ctypes.c_char_p,
            ctypes.c_int,
        ]
        library.espeak_Synth.argtypes = [
            *(ctypes.c_char_p, ctypes.c_size_t, ctypes.c_uint, ctypes.c_int),
            *(ctypes.c_uint, ctypes.c_uint, ctypes.c_void_p, ctypes.c_void_p),
        ]
        self.rate: int = library.espeak_Initialize(
            self._SYNCHRONOUS, 0, data.encode(), self._NO_EXIT
        )
        if self.rate <= 0 or library.espeak_SetVoiceByName(b"en-us") != 0:
            raise OSError("eSpeak NG did not start")
        library.espeak_SetSynthCallback(self._handler)
        library.espeak_SetParameter(self._RATE, _WORDS_A_MINUTE, 0)

    def _take(self, samples: ctypes._Pointer[ctypes.c_short], count: int, _events: object) -> int:
        if samples and count:
            pcm = np.ctypeslib.as_array(samples, (count,))
            self._parts.append(pcm.astype(np.float32) / np.float32(32768.0))
        return 0

    def speak(self, words: str) -> tuple[Samples, int]:
        self._parts = []
        text = words.encode() + b"\0"
        if self._library.espeak_Synth(text, len(text), 0, 0, 0, self._UTF8, None, None) != 0:
            raise OSError("eSpeak NG did not speak")
        self._library.espeak_Synchronize()
        parts, self._parts = self._parts, []
        return (np.concatenate(parts) if parts else np.zeros(0, np.float32)), self.rate


def _mac() -> SpeechSynthesizer | None:
    if sys.platform != "darwin" or shutil.which("say") is None:
        return None
    return SpeechSynthesizer(
        "say",
        _by_program(
            lambda words, wav: ["say", "-o", wav, "--data-format=LEI16@22050", "--", words]
        ),
    )


def _windows() -> SpeechSynthesizer | None:
    if sys.platform != "win32" or shutil.which("powershell") is None:
        return None
    # The words come in through standard input: nothing spoken becomes part of a command.
    script = (
        "Add-Type -AssemblyName System.Speech; $words = [Console]::In.ReadToEnd(); "
        "$voice = New-Object System.Speech.Synthesis.SpeechSynthesizer; "
        "$voice.SetOutputToWaveFile($args[0]); $voice.Speak($words)"
    )
    command = ["powershell", "-NoProfile", "-Command", f"& {{{script}}}"]
    return SpeechSynthesizer("SAPI", _by_program(lambda words, wav: [*command, wav], stdin=True))


def _espeak() -> SpeechSynthesizer | None:
    if shutil.which("espeak-ng") is None:
        return None
    speed = str(_WORDS_A_MINUTE)
    return SpeechSynthesizer(
        "espeak-ng",
        _by_program(lambda words, wav: ["espeak-ng", "-s", speed, "-w", wav, "--", words]),
    )


def _flite() -> SpeechSynthesizer | None:
    if shutil.which("flite") is None:
        return None
    return SpeechSynthesizer(
        "flite", _by_program(lambda words, wav: ["flite", "-voice", "slt", "-t", words, wav])
    )


def _by_program(command: Callable[[str, str], list[str]], *, stdin: bool = False) -> Speak:
    def speak(words: str) -> tuple[Samples, int]:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "said.wav"
            subprocess.run(
                command(words, str(path)),
                input=words.encode() if stdin else None,
                check=True,
                capture_output=True,
                timeout=_TIMEOUT_S,
            )
            return _read_wav(path.read_bytes())

    return speak


def _read_wav(data: bytes) -> tuple[Samples, int]:
    with wave.open(io.BytesIO(data)) as file:
        if file.getsampwidth() != 2:
            raise ValueError("not 16 bits")
        pcm = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        pcm = pcm.reshape(-1, file.getnchannels())[:, 0]
        return pcm.astype(np.float32) / np.float32(32768.0), file.getframerate()
