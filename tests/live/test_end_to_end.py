"""From a loudspeaker to the log: `voicelog listen` hears a narration through PortAudio, and its
session is what `voicelog add` makes of the same sound.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

import numpy as np
import pytest

from tests.cli.run import caller
from tests.live.fields import BRACKEN
from tests.live.pulse import Pulse, heard_in, pulse
from tests.recognition.speaking import laid, say
from voicelog.app.session_catalog import SessionCatalog
from voicelog.audio.resampling import RATE, Samples
from voicelog.store import Log

WORDS = (
    "start session bracken",
    "level two came",
    "no button came",
    "here",
    "level three",
    "line help",
    "end session",
)
PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")
LEFT_OUT = ("id", "session", "entries", "evidence")


def essence(value: Any) -> Any:
    """A rep, an entry or a finding without ids, since they name the recording."""
    if isinstance(value, dict):
        return {name: essence(one) for name, one in value.items() if name not in LEFT_OUT}
    return [essence(one) for one in value] if isinstance(value, list) else value


def kept(folder: Path) -> dict[str, Any]:
    """What was derived from the one recording of a log, as the contract has it."""
    with Log.open(folder, now=lambda: datetime.now(UTC)) as log:
        session_catalog = SessionCatalog(log)
        session_catalog.refresh()
        (line,) = session_catalog.lines()
    return line.model_dump(mode="json", by_alias=True)


def _lines_until(said: IO[str], words: str) -> Iterator[str]:
    """The lines as they come, to one with these words."""
    for line in said:
        yield line
        if words in line:
            return


def listened(server: Pulse, folder: Path, sound: Samples) -> tuple[str, Samples]:
    """What `listen` printed while a narration was played, and what sounded in the ear."""
    command = [*PROGRAM, "listen", "--plain", "--earpiece", "--listener", "quick"]
    with (
        server.ear(folder / "ear.raw") as ear,
        subprocess.Popen(
            [*command, "--data-dir", str(folder)],
            env=server.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        ) as listen,
    ):
        assert listen.stdout is not None
        lines = list(_lines_until(listen.stdout, "Listening with"))
        playing = server.play(sound)
        second = subprocess.run(
            [*command, "--data-dir", str(folder)],
            env=server.environment,
            capture_output=True,
            text=True,
        )
        assert second.returncode == 1
        assert f"Found another 'voicelog listen' at work on {folder}" in second.stderr
        playing.wait()
        lines += _lines_until(listen.stdout, WORDS[-1])  # what was said last is heard and answered
        listen.send_signal(signal.SIGINT)
        lines += listen.stdout.readlines()
        assert listen.wait() == 0, lines
        ear.terminate()
        ear.wait()
        return "".join(lines), heard_in((folder / "ear.raw").read_bytes())


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pulse]:
    with pulse(tmp_path_factory.mktemp("pulse")) as running:
        yield running


@pytest.mark.timeout(300)  # half a minute of sound in real time, on machines with other work
def test_a_session_through_portaudio_is_what_add_makes_of_its_sound(
    server: Pulse,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """And while it listens, a second one on the same log is refused."""
    live, added = tmp_path / "live", tmp_path / "added"
    for folder in (live, added):
        with Log.open(folder, now=lambda: datetime.now(UTC)) as log:
            log.put_dog(BRACKEN)
    spoken = [(1.3, say(words, "flite:rms", edge_s=0.0)) for words in WORDS]
    narration = laid(spoken, 1.0)
    assert 10 * RATE < len(narration) < 60 * RATE

    printed, ear = listened(server, live, narration)
    (sound,) = (live / "sound").glob("*.flac")
    add = caller(monkeypatch, capsys)("add", sound, "--listener", "quick", "--data-dir", added)
    assert add.code == 0, add.err

    heard, again = kept(live), kept(added)
    assert len(heard["reps"]) == 3
    assert essence(heard["reps"]) == essence(again["reps"])
    assert essence(heard["entries"]) == essence(again["entries"])
    assert [rep["peak_level"] for rep in heard["reps"]] == [2, None, 3]
    assert essence(heard["findings"]) == essence(again["findings"])
    assert "says: start session bracken?" in printed  # the quick one alone is not sure whose

    left, right = ear[:, 0], ear[:, 1]
    assert np.abs(left).max() > 0.1, "tones and words sounded"
    assert np.abs(right).max() == 0.0, "in one ear only"
    assert list((live / "live").iterdir()) == []
