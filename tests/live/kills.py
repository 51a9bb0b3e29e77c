"""Kill a listening program at random moments and see what is lost: the benchmark and its test."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import numpy as np

from tests.live.fields import GRAMMAR, ROSTER
from tests.live.stage import Script
from tests.live.talker import LINES
from voicelog.app.intake import RecognitionSetup, RecognizedUtterance
from voicelog.app.live_files import live_file
from voicelog.app.resume import interrupted_recordings, orphan_files, resume_recording
from voicelog.audio.errors import EmptyFileError, NoSamplesError
from voicelog.audio.files import AudioReader
from voicelog.audio.recorder import Pcm, as_pcm
from voicelog.audio.resampling import RATE
from voicelog.live.recognition_messages import RecognitionMessage, UtteranceRecognized
from voicelog.live.recognition_process import RecognitionRequest
from voicelog.safety.settings import Settings
from voicelog.store import Log

__all__ = ["Counts", "How", "how_of", "kill_one", "make_sound"]

TALKER = Path(__file__).with_name("talker.py")
ROOT = Path(__file__).parents[2]
SPEED = 5.0
LONGEST_S = 1.5
"""A kill from outside falls within so much real time (s) of the first sound."""
MOST_WRITES = 60
"""A kill inside a write of sound falls within so many of them, of 0.1 s each."""
MOST_COMMITS, COMMIT_MS = 12, 12.0
"""A kill inside a commit falls within so many of them, and so long after it began."""

How = Literal["outside", "write", "commit"]


@dataclass
class Counts:
    """What the kills cost."""

    kills: int = 0
    committed: int = 0
    lost: int = 0
    completed: int = 0
    inside: int = 0
    lost_s: list[float] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        yield f"kills                    {self.kills}, {self.inside} of them inside a write"
        yield f"events committed, lost   {self.committed}, {self.lost}"
        worst = max(self.lost_s, default=0.0)
        mean = sum(self.lost_s) / max(1, len(self.lost_s))
        yield f"sound lost, worst, mean  {worst:.2f} s, {mean:.2f} s"
        yield f"sessions completed       {self.completed} of {self.kills}"


def how_of(number: int) -> How:
    """Every other kill falls inside a write: of sound, or of the log, in turn."""
    return ("outside", "write", "outside", "commit")[number % 4]


def make_sound(folder: Path) -> Path:
    """Noise to play, 60 s of it; every sample tells which it is."""
    path = folder / "sound.npz"
    rng = np.random.default_rng(5)
    np.savez(path, sound=(0.1 * rng.standard_normal(60 * RATE)).astype(np.float32))
    return path


def kill_one(sound: Path, chance: random.Random, counts: Counts, how: How) -> None:
    """One session, killed; its log opened again and completed; what it cost, counted."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        command = [sys.executable, str(TALKER), name, str(sound), str(SPEED)]
        if how == "write":
            command += [how, str(chance.randint(1, MOST_WRITES))]
        elif how == "commit":
            delay = f"{chance.uniform(0.0, COMMIT_MS):.2f}"
            command += [how, str(chance.randint(1, MOST_COMMITS)), delay]
        env = {**os.environ, "PYTHONPATH": str(ROOT)}
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as talker:
            assert talker.stdout is not None
            first = talker.stdout.readline()
            if how == "outside":
                time.sleep(chance.uniform(0.0, LONGEST_S))
                talker.kill()
            said = [first, *talker.stdout.read().splitlines()]
        assert talker.returncode == -signal.SIGKILL, said
        told = {line.split()[1] for line in said if line.startswith("kept ")}
        played = [float(line.split()[1]) for line in said if line.startswith("sound ")]
        counts.kills += 1
        counts.inside += how != "outside"
        _look(folder, told, max(played, default=0.0), np.load(sound)["sound"], counts)


def _look(folder: Path, told: set[str], played_s: float, sound: object, counts: Counts) -> None:
    with Log.open(folder, now=lambda: datetime.now(UTC)) as log:
        if not log.recordings():  # killed before it began: then there is no sound either
            assert orphan_files(log) == ()
            assert not told
            counts.completed += 1
            return
        (recording,) = log.recordings()
        before = {event.id for event in log.events(recording.id)}
        counts.committed += len(told)
        counts.lost += len(told - before)
        path = live_file(log, recording.id)
        kept = _kept_sound(path)
        assert len(kept) or not told
        whole = as_pcm(np.asarray(sound, np.float32))
        assert np.array_equal(kept, whole[: len(kept)]), "the sound is not what was played"
        counts.lost_s.append(max(0.0, played_s - len(kept) / RATE))

        def hear(_blocks: object, _name: str) -> Iterator[RecognizedUtterance]:
            messages: list[RecognitionMessage] = []
            recognition = Script(LINES)(RecognitionRequest(ROSTER, recording.id), messages.append)
            recognition.feed(kept)
            recognition.finish_at(len(kept) / RATE)
            return iter([one.utterance for one in messages if isinstance(one, UtteranceRecognized)])

        (cut,) = interrupted_recordings(log)
        setup = RecognitionSetup(grammar=GRAMMAR, settings=Settings())
        resumed = resume_recording(log, cut, lambda _kept: (setup, hear))
        assert resumed.sound == bool(len(kept))
        after = log.events(recording.id)
        assert before <= {event.id for event in after}
        heard = sum(event.event == "utterance" for event in after)
        expected = sum(end_s <= len(kept) / RATE for end_s, _ in LINES)
        done = log.recording(recording.id)
        whole_now = done is not None and done.complete and heard >= expected
        counts.completed += (whole_now or not resumed.sound) and interrupted_recordings(log) == ()


def _kept_sound(path: Path) -> Pcm:
    """The sound in a growing file; none where it was killed before the first sample."""
    try:
        with AudioReader(path) as reader:
            return as_pcm(np.concatenate(list(reader)))
    except (EmptyFileError, NoSamplesError):
        return np.zeros(0, np.int16)
