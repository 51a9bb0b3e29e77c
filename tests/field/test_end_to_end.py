"""From a loudspeaker to the log: `voicelog listen` hears a narration through PortAudio, and its
session is what `voicelog add` makes of the same sound.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.field.pulse import Pulse, heard_in, pulse
from tests.hearing.speaking import laid, say
from voicelog.sound.mono import RATE, Samples

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


def voicelog(*arguments: object, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    command = [*PROGRAM, *map(str, arguments)]
    return subprocess.run(command, env=env, capture_output=True, text=True, check=True)


def essence(value: Any) -> Any:
    """A rep, an entry or a finding without ids, since they name the recording."""
    if isinstance(value, dict):
        return {name: essence(one) for name, one in value.items() if name not in LEFT_OUT}
    return [essence(one) for one in value] if isinstance(value, list) else value


def exported(folder: Path, env: dict[str, str]) -> dict[str, Any]:
    voicelog("export", folder / "out", "--data-dir", folder, env=env)
    document = json.loads((folder / "out" / "voicelog.json").read_text())
    (recording,) = document["recordings"]
    return recording  # type: ignore[no-any-return]


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
        lines = []
        for line in listen.stdout:
            lines.append(line)
            if line.startswith("Listening with"):
                break
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
        time.sleep(2.0)  # what was said last is heard and answered
        listen.send_signal(signal.SIGINT)
        lines += listen.stdout.readlines()
        assert listen.wait() == 0, lines
        ear.terminate()
        ear.wait()
        return "".join(lines), heard_in((folder / "ear.raw").read_bytes())


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with pulse(tmp_path_factory.mktemp("pulse")) as running:
        yield running


def test_a_session_through_portaudio_is_what_add_makes_of_its_sound(
    server: Pulse, tmp_path: Path
) -> None:
    """And while it listens, a second one on the same log is refused."""
    env = server.environment
    live, added = tmp_path / "live", tmp_path / "added"
    dog = ("dogs", "put", "Bracken", "--top", 20, "--collar", 4, "--ceiling", 6, "--data-dir")
    for folder in (live, added):
        voicelog(*dog, folder, env=env)
    narration = laid([(1.3, say(words, edge_s=0.0)) for words in WORDS], 1.0)
    assert 10 * RATE < len(narration) < 60 * RATE

    printed, ear = listened(server, live, narration)
    (sound,) = (live / "sound").glob("*.flac")
    voicelog("add", sound, "--listener", "quick", "--data-dir", added, env=env)

    heard, again = exported(live, env), exported(added, env)
    assert len(heard["reps"]) == 3
    assert essence(heard["reps"]) == essence(again["reps"])
    assert essence(heard["entries"]) == essence(again["entries"])
    assert [rep["peak_level"] for rep in heard["reps"]] == [2, None, 3]
    assert essence(heard["findings"]) == essence(again["findings"])
    assert "says: Bracken. Collar 4. Ceiling 6." in printed

    left, right = ear[:, 0], ear[:, 1]
    assert np.abs(left).max() > 0.1, "tones and words sounded"
    assert np.abs(right).max() == 0.0, "in one ear only"
    assert list((live / "live").iterdir()) == []
