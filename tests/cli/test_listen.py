"""`listen` and `soundcheck` from outside, where they cannot begin."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.audio.stand_in import StandIn
from tests.cli.run import Voicelog
from tests.recognition.speaking import hiss, say
from voicelog.app.live_files import live_file, live_folder
from voicelog.app.open_log import start_after
from voicelog.audio import microphone
from voicelog.audio.recorder import Recorder, as_pcm
from voicelog.report.screen_words import clock_behind_words
from voicelog.store import Log, Recording


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> StandIn:
    devices = StandIn([("USB Headset", 1, 2, 48_000)])
    monkeypatch.setattr(microphone, "portaudio", lambda: devices)
    return devices


@pytest.fixture
def bracken(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", 20)


def test_without_a_dog_on_the_roster_it_says_how_to_add_one(voicelog: Voicelog) -> None:
    result = voicelog("listen")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found no dog on the roster, wanted one whose name can be said; add it first: "
        "voicelog dogs put NAME --top 20 --collar 4.\n"
    )


def test_an_unknown_dog_is_refused(voicelog: Voicelog, bracken: None) -> None:
    result = voicelog("listen", "--dog", "Braken")
    assert result.code == 2
    assert "There is no dog 'Braken' on the roster, which has Bracken" in result.err


@pytest.mark.parametrize("command", ["listen", "soundcheck"])
def test_without_a_microphone_it_says_so_and_keeps_nothing(
    voicelog: Voicelog, bracken: None, library: StandIn, tmp_path: Path, command: str
) -> None:
    library.devices = [("Speakers", 0, 2, 48_000)]
    result = voicelog(command, "--output", "none")
    assert result.code == 1
    assert result.err.endswith(
        "voicelog: Found no microphone, wanted one; plug it in and try again.\n"
    )
    assert list((tmp_path / "data").glob("live/*")) == []


def test_a_busy_microphone_is_said_and_nothing_is_kept(
    voicelog: Voicelog, bracken: None, library: StandIn, tmp_path: Path
) -> None:
    library.busy = True
    result = voicelog("listen", "--output", "none")
    assert result.code == 1
    assert "Found the microphone 'USB Headset' busy or refusing (Device unavailable)" in result.err
    assert list((tmp_path / "data").glob("live/*")) == []
    assert voicelog("listen", "--resume").out == "Found no session that was cut short.\n"


def test_a_session_that_was_cut_short_is_completed_from_its_sound(
    voicelog: Voicelog, bracken: None, tmp_path: Path
) -> None:
    folder = tmp_path / "data"
    with Log.open(folder, now=lambda: datetime.now(UTC)) as log:
        roster = log.roster()
        log.begin_recording(
            Recording(id="ab" * 16, file_name="live 2026-04-18 07:30", roster=roster, dog="Bracken")
        )
        live_folder(log)
        path = live_file(log, "ab" * 16)
    recorder = Recorder(path)
    recorder.write(as_pcm(np.concatenate([hiss(1.0), say("level three came"), hiss(1.5)])))
    killed = path.read_bytes()
    recorder.close()
    path.write_bytes(killed)  # as a kill leaves it: its length is open

    result = voicelog("listen", "--resume", "--listener", "quick")
    assert (result.code, result.out) == (
        0,
        "live 2026-04-18 07:30: completed, 1 note found that the log did not have, 0 it had.\n",
    )
    assert "level 3" in voicelog("summary", "Bracken").out.lower()
    assert voicelog("listen", "--resume").out == "Found no session that was cut short.\n"


def test_a_clock_before_the_last_recording_is_said(tmp_path: Path) -> None:
    began = datetime(2026, 4, 18, 7, 30, tzinfo=UTC)
    early = datetime(2020, 1, 1, tzinfo=UTC)
    with Log.open(tmp_path / "data", now=lambda: datetime.now(UTC)) as log:
        log.begin_recording(Recording(id="r", started_at=began))
        log.begin_recording(Recording(id="s", started_at=datetime(2027, 1, 1)))  # of which zone?
        assert start_after(log, began + timedelta(seconds=1)) is None
        assert start_after(log, early) == began
    assert clock_behind_words(early, began) == (
        "Found the clock at Wed 1 Jan 2020, before the log's last recording "
        "(Sat 18 Apr 2026, 7:30), wanted it later; set the clock, or the order of sessions will be "
        "wrong."
    )


def test_without_portaudio_it_says_what_to_install(
    voicelog: Voicelog, bracken: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> Any:
        raise microphone.NoPortAudioError("PortAudio library not found")

    monkeypatch.setattr(microphone, "portaudio", missing)
    result = voicelog("listen")
    assert result.code == 1
    assert "on Debian or Ubuntu install libportaudio2" in result.err


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs another user in a child process")
def test_a_folder_that_may_not_be_written_is_one_sentence(
    voicelog: Voicelog, bracken: None, library: StandIn, tmp_path: Path
) -> None:
    if os.getuid() != 0:
        pytest.skip("only root can become another user; run the tests as root")
    folder = tmp_path / "data"
    for path in (folder, *folder.iterdir()):
        path.chmod(0o755 if path.is_dir() else 0o644)
    for parent in folder.parents:
        parent.chmod(parent.stat().st_mode | 0o011)
        if parent == Path("/tmp"):
            break
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.setuid(65534)
        result = voicelog("listen")
        os.write(write, f"{result.code} {result.err}".encode())
        os._exit(0)
    os.waitpid(child, 0)
    said = os.read(read, 4096).decode()
    os.close(read)
    os.close(write)
    assert said.startswith("1 voicelog: ")
    assert "may not be written by this user, which the log needs" in said
    assert said.count("\n") == 1
