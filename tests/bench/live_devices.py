"""Devices taken away in eight ways: what is said, and how soon. For `field_live devices`.

`voicelog listen` runs on a PulseAudio server of its own, with hiss at its microphone and a
loudspeaker beside the dog; each way is done once, and undone. Times are from the act to the line
that `--plain` prints as it is said or shown.
"""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import numpy as np
import soundfile as sf

from tests.live.fields import BRACKEN
from tests.live.pulse import Pulse, pulse
from tests.recognition.speaking import hiss
from voicelog.audio.resampling import RATE, Samples
from voicelog.audio.sound_server import SoundServerStream
from voicelog.store import Log

__all__ = ["devices"]

PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")
WAIT_S = 15.0
REST_S = 6.0
"""Seconds between the end of one way and the next, in which all is said."""
NOISE_RMS = 0.003
LOUD = 0.05
"""Peak that our voice and tones have, and the noise has not."""


@dataclass(frozen=True)
class Way:
    """What is done, what has to be said of it (a part of the line; "" for nothing), and how it is
    undone, with what is said then."""

    name: str
    do: Callable[[], object]
    said: str
    undo: Callable[[], object] = lambda: None
    back: str = ""


class Lines:
    """What `listen` prints, as it comes."""

    def __init__(self, stream: IO[str]) -> None:
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._read, args=(stream,), daemon=True).start()

    def _read(self, stream: IO[str]) -> None:
        for line in stream:
            self._lines.put(line.strip())

    def wait(self, part: str, seconds: float) -> float | None:
        """How long (s) until a line with this part came; None where none did."""
        began_s = time.monotonic()
        while (left_s := seconds - (time.monotonic() - began_s)) > 0:
            with suppress(queue.Empty):
                if part in self._lines.get(timeout=left_s):
                    return time.monotonic() - began_s
        return None


def devices() -> None:
    """Eight ways, one after the other."""
    with tempfile.TemporaryDirectory() as name, pulse(Path(name)) as server:
        folder = Path(name)
        server.plug("loudspeaker")
        server.pactl("set-default-sink", "ear")
        server.pactl("set-default-source", "field.monitor")
        for one in ("PULSE_SINK", "PULSE_SOURCE"):
            del server.environment[one]
        with Log.open(folder / "log", now=lambda: datetime.now(UTC)) as log:
            log.put_dog(BRACKEN)
        noise = play(server, folder / "noise.wav", NOISE_RMS, 900.0)
        command = [*PROGRAM, "listen", "--plain", "--listener", "quick"]
        with (
            subprocess.Popen(
                [*command, "--data-dir", str(folder / "log")],
                env=server.environment,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
            ) as listen,
        ):
            assert listen.stdout is not None
            lines = Lines(listen.stdout)
            assert lines.wait("says: Listening", 120.0) is not None, "it does not listen"
            other: list[Samples] = []
            os.environ |= {
                name: server.environment[name] for name in ("XDG_RUNTIME_DIR", "PULSE_SERVER")
            }
            stream = SoundServerStream(  # one that the server may not move elsewhere
                "in",
                "loudspeaker.monitor",
                rate=RATE,
                channels=2,
                callback=lambda sound, *_: other.append(sound.copy()),
            )
            stream.start()
            for way in ways(server, folder):
                tell(way, lines)
            listen.send_signal(signal.SIGINT)
            listen.wait(60)
        noise.terminate()
        loud = any(float(np.abs(block).max()) > LOUD for block in other)
        print(f"sounded at the loudspeaker beside the dog: {'YES' if loud else 'nothing'}")


def ways(server: Pulse, folder: Path) -> list[Way]:
    """The eight, from the mildest."""
    pid = int((folder / "pulse" / "pid").read_text())

    def replug() -> None:
        server.plug("field")
        play(server, folder / "more.wav", NOISE_RMS, 600.0)

    def pull_earphone() -> None:
        # Were the noise on what is the default meanwhile, it would follow to the next default.
        server.pactl("set-default-sink", "loudspeaker")
        server.unplug("ear")

    def mute(on: bool) -> Callable[[], object]:
        return lambda: server.pactl("set-source-mute", "field.monitor", str(int(on)))

    return [
        Way(
            "another default output",
            lambda: server.pactl("set-default-sink", "loudspeaker"),
            "",
            lambda: server.pactl("set-default-sink", "ear"),
        ),
        Way(
            "another default input",
            lambda: server.pactl("set-default-source", "loudspeaker.monitor"),
            "",
            lambda: server.pactl("set-default-source", "field.monitor"),
        ),
        Way("microphone muted", mute(True), "Microphone is silent", mute(False), "Microphone back"),
        Way(
            "microphone overloaded",
            lambda: play(server, folder / "loud.wav", 3.0, 4.0),
            "Microphone overloaded",
            back="Microphone back",
        ),
        Way(
            "earphone pulled",
            pull_earphone,
            "The earphone is silent",
            lambda: server.plug("ear"),
            "Earphone back",
        ),
        Way(
            "microphone pulled", lambda: server.unplug("field"), "Microphone gone",
            replug, "Microphone back",
        ),
        Way(
            "server hangs",
            lambda: os.kill(pid, signal.SIGSTOP),
            "Microphone gone",
            lambda: os.kill(pid, signal.SIGCONT),
            "Microphone back",
        ),
        Way("server dies", lambda: os.kill(pid, signal.SIGKILL), "Microphone gone"),
    ]  # fmt: skip


def tell(way: Way, lines: Lines) -> None:
    """Do it after a rest, print how soon it was said, undo it."""
    lines.wait("nothing that it prints", REST_S)
    way.do()
    if not way.said:
        said = lines.wait("Microphone", 4.0) or lines.wait("arphone", 0.1)
        print(f"  {way.name}: {'SAID SOMETHING' if said else 'nothing is said, nothing moves'}")
    else:
        after_s = lines.wait(way.said, WAIT_S)
        words = f"'{way.said}' after {after_s:.1f} s" if after_s else f"'{way.said}' NOT SAID"
        print(f"  {way.name}: {words}", flush=True)
    way.undo()
    if way.back:
        back_s = lines.wait(way.back, 2 * WAIT_S)
        print(f"    undone: {f'said after {back_s:.1f} s' if back_s else 'NOT SAID'}", flush=True)


def play(server: Pulse, path: Path, rms: float, seconds: float) -> subprocess.Popen[bytes]:
    """Noise at the microphone, for so long (s)."""
    sf.write(path, np.clip(hiss(seconds, rms), -1.0, 1.0), RATE)
    return subprocess.Popen(["paplay", "--device=field", str(path)], env=server.environment)
