"""A PulseAudio of our own with two sinks: what is played into `field` is what the microphone
hears, and what is sounded in her ear arrives at `ear`. No hardware, no user's settings.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from ctypes.util import find_library
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from voicelog.audio.resampling import RATE, Samples

__all__ = ["Pulse", "heard_in", "pulse"]

_NEEDED = ("pulseaudio", "paplay", "parec", "pactl")


@dataclass(frozen=True)
class Pulse:
    """A running server, and the environment in which programs find it."""

    folder: Path
    environment: dict[str, str]

    def play(self, sound: Samples) -> subprocess.Popen[bytes]:
        """Play sound (16 kHz mono) to the microphone."""
        path = self.folder / "play.wav"
        sf.write(path, sound, RATE)
        command = ["paplay", "--device=field", str(path)]
        return subprocess.Popen(command, env=self.environment)

    def pactl(self, *words: str) -> str:
        """Ask the server, or tell it."""
        command = ["pactl", *words]
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def unplug(self, sink: str) -> None:
        """Take a sink away, and the source that hears it."""
        modules = (line.split("\t") for line in self.pactl("list", "short", "modules").splitlines())
        (number,) = (one[0] for one in modules if f"sink_name={sink}" in one[2:])
        self.pactl("unload-module", number)

    def plug(self, sink: str) -> None:
        """Bring a sink."""
        self.pactl("load-module", "module-null-sink", f"sink_name={sink}")

    def ear(self, path: Path, sink: str = "ear") -> subprocess.Popen[bytes]:
        """Record into a file what sounds in her ear, or at another sink: see `heard_in`."""
        command = ["parec", f"--device={sink}.monitor", f"--rate={RATE}", "--channels=2"]
        command += ["--format=s16le", "--raw", str(path)]
        return subprocess.Popen(command, env=self.environment)


@contextmanager
def pulse(folder: Path) -> Iterator[Pulse]:
    """The server, for as long as it is needed; skips where a Debian package is missing."""
    missing = [name for name in _NEEDED if shutil.which(name) is None]
    if missing:
        pytest.skip(f"{missing[0]} is missing; apt-get install pulseaudio pulseaudio-utils")
    if find_library("portaudio") is None:
        pytest.skip("PortAudio is missing; apt-get install libportaudio2")
    plugins = list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so"))
    if sys.platform != "linux" or not plugins:
        pytest.skip("ALSA's way to PulseAudio is missing; apt-get install libasound2-plugins")
    folder.chmod(0o700)
    alsa = folder / "alsa.conf"
    alsa.write_text(
        "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
    )
    environment = {
        **os.environ,
        "HOME": str(folder),
        "XDG_RUNTIME_DIR": str(folder),
        "PULSE_SERVER": f"unix:{folder}/pulse/native",
        "PULSE_SOURCE": "field.monitor",
        "PULSE_SINK": "ear",
        "ALSA_CONFIG_PATH": str(alsa),
    }
    loads = (
        "module-native-protocol-unix",
        *(f"module-null-sink sink_name={n}" for n in ("field", "ear")),
    )
    command = ["pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no"]
    for load in loads:
        command += ["-L", load]
    quiet = subprocess.DEVNULL
    with subprocess.Popen(command, env=environment, stdout=quiet, stderr=quiet) as server:
        try:
            deadline = time.monotonic() + 60
            while subprocess.run(
                ["pactl", "info"], env=environment, capture_output=True
            ).returncode:
                assert time.monotonic() < deadline, "PulseAudio did not start"
                time.sleep(0.1)
            yield Pulse(folder, environment)
        finally:
            server.terminate()


def heard_in(raw: bytes) -> Samples:
    """Raw 16-bit sound of two channels as float32, shape (n, 2)."""
    pcm = np.frombuffer(raw[: len(raw) // 4 * 4], "<i2").reshape(-1, 2)
    return pcm.astype(np.float32) / np.float32(32768.0)
