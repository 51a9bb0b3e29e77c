"""Devices of a real sound server that vanish: nothing sounds elsewhere, nothing else is heard."""

from __future__ import annotations

import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf

from tests.audio.stand_in import PortAudioError, StandIn
from tests.live.fields import BRACKEN
from tests.live.pulse import Pulse, heard_in, pulse
from voicelog.audio.microphone import DeviceBusyError, Microphone
from voicelog.audio.resampling import RATE, Samples
from voicelog.audio.sound_server import PinnedPortAudio, SoundServerStream
from voicelog.live.earphone import Earphone
from voicelog.store import Log

PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")
DEFAULT = ("default", 2, 2, RATE)
"""What PortAudio lists for the server."""


@pytest.fixture
def server(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Pulse]:
    """A server with `field` and `ear` as its defaults, and a loudspeaker beside the dog."""
    with pulse(tmp_path_factory.mktemp("pulse")) as running:
        running.plug("loudspeaker")
        running.pactl("set-default-sink", "ear")
        running.pactl("set-default-source", "field.monitor")
        for name in ("PULSE_SINK", "PULSE_SOURCE"):
            del running.environment[name]
            monkeypatch.delenv(name, raising=False)
        for name in ("HOME", "XDG_RUNTIME_DIR", "PULSE_SERVER"):
            monkeypatch.setenv(name, running.environment[name])
        yield running


def until(done: Callable[[], bool], seconds: float = 60.0) -> float:
    """How long (s) it took."""
    start_s = time.monotonic()
    while not done():
        assert time.monotonic() - start_s < seconds
        time.sleep(0.01)
    return time.monotonic() - start_s


def loud(path: Path) -> bool:
    return bool(len(sound := heard_in(path.read_bytes())) and np.abs(sound).max() > 0.01)


@contextmanager
def beside_the_dog() -> Iterator[list[Samples]]:
    """What sounds at the loudspeaker while this lasts. The server moves a recorder like `parec` to
    another device when the default one comes back; this stays, and says so if it did not."""
    blocks: list[Samples] = []
    stream = SoundServerStream(
        "in",
        "loudspeaker.monitor",
        rate=RATE,
        channels=2,
        callback=lambda sound, *_: blocks.append(sound.copy()),
    )
    stream.start()
    try:
        yield blocks
        stream.check()
    finally:
        stream.close()


def is_loud(blocks: list[Samples]) -> bool:
    return bool(np.abs(np.concatenate(blocks)).max() > 0.01)


def test_what_sounds_at_the_loudspeaker_is_heard_there(server: Pulse) -> None:
    with beside_the_dog() as blocks:
        command = ["paplay", "--device=loudspeaker", str(server.folder / "play.wav")]
        sf.write(server.folder / "play.wav", np.full(RATE, 0.5, np.float32), RATE)
        assert subprocess.run(command, env=server.environment).returncode == 0
        until(lambda: bool(blocks) and is_loud(blocks))


def test_an_earphone_that_vanishes_while_it_sounds_is_silent_until_it_is_back(
    server: Pulse, tmp_path: Path
) -> None:
    ear = tmp_path / "ear.raw"
    tone = np.full(4 * RATE, 0.5, np.float32)
    library: Any = PinnedPortAudio(StandIn([DEFAULT]))
    with beside_the_dog() as other:
        with server.ear(ear) as listening:
            earphone = Earphone(library=library)
            earphone.play(tone)
            until(lambda: ear.exists() and loud(ear))
            server.unplug("ear")
            listening.terminate()
        until(lambda: earphone.trouble is not None, 3.0)
        assert earphone.trouble is not None
        assert "ear is gone" in earphone.trouble
        earphone.play(tone[:RATE])
        before = sum(map(len, other))
        until(lambda: sum(map(len, other)) > before + 2 * RATE)
        assert not is_loud(other), "it came out beside the dog"
        server.plug("ear")
        again = tmp_path / "again.raw"
        with server.ear(again) as listening:
            until(lambda: earphone.trouble is None)
            earphone.play(tone[:RATE])
            until(lambda: again.exists() and loud(again))
            listening.terminate()
        earphone.close()
    assert not is_loud(other)


def test_a_microphone_that_vanishes_brings_nothing_and_is_not_another_one(server: Pulse) -> None:
    library: Any = PinnedPortAudio(StandIn([DEFAULT]))
    blocks: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def open_it() -> Microphone:
        return Microphone(lambda rate: lambda sound, lost: blocks.put(sound), library=library)

    microphone = open_it()
    assert blocks.get(timeout=60.0).shape[1] == 1
    server.unplug("field")
    until(lambda: not microphone._stream._thread.is_alive())  # it has seen that its device is gone
    while not blocks.empty():
        blocks.get()
    time.sleep(1.0)
    assert blocks.empty(), "another source took its place"
    microphone.close()
    with pytest.raises(DeviceBusyError, match=r"field\.monitor is gone"):
        open_it()
    server.plug("field")
    microphone = open_it()
    assert len(blocks.get(timeout=60.0))
    microphone.close()


def test_without_a_server_the_device_itself_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PULSE_SERVER", "unix:/nowhere/native")
    plain = StandIn([DEFAULT])
    library: Any = PinnedPortAudio(plain)
    assert library.PortAudioError is PortAudioError
    library.OutputStream(device=0, samplerate=RATE, channels=2, dtype="float32", latency=0.1)
    assert len(plain.streams) == 1


@pytest.mark.timeout(300)
def test_a_session_says_within_three_seconds_what_the_server_lost(
    server: Pulse, tmp_path: Path
) -> None:
    with Log.open(tmp_path / "log", now=lambda: datetime.now(UTC)) as log:
        log.put_dog(BRACKEN)
    command = [*PROGRAM, "listen", "--plain", "--listener", "quick"]
    with (
        beside_the_dog() as other,
        subprocess.Popen(
            [*command, "--data-dir", str(tmp_path / "log")],
            env=server.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        ) as listen,
    ):
        lines: list[str] = []
        assert listen.stdout is not None
        reading = threading.Thread(target=lines.extend, args=(listen.stdout,), daemon=True)
        reading.start()

        def shown(words: str) -> Callable[[], bool]:
            return lambda: any(words in line for line in list(lines))

        until(shown("Listening with"))
        time.sleep(1.0)
        server.unplug("ear")
        assert until(shown("The earphone is silent, and nothing sounds in its place")) < 3.0
        server.unplug("field")
        assert until(shown("shown: Microphone gone")) < 3.0
        server.plug("ear")
        until(shown("says: Earphone back"))
        server.plug("field")
        until(shown("says: Microphone back"))
        listen.send_signal(signal.SIGINT)
        assert listen.wait(60) == 0, lines
        reading.join()
    assert not is_loud(other), "nothing came out beside the dog"
