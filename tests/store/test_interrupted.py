"""Whatever kills or hurries the program, nothing committed is lost and nothing is doubled."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.store.log_cases import CHILD, clock, recording, spoken
from voicelog.model import Event
from voicelog.store import Log, sound_files

ADDER = Path(__file__).with_name("adder.py")
COUNT = 200
KILLS = 10
MOST_STEPS = 15
"""Utterances committed between one kill and the next, at most."""


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    path = tmp_path / "morning.wav"
    path.write_bytes(random.Random(1).randbytes(2_000_000))
    return path


def adder(folder: Path, sound: Path, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, str(ADDER), str(folder), str(sound), str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=CHILD)


def all_of(sha256: str, count: int) -> tuple[Event, ...]:
    return tuple(event for number in range(count) for event in spoken(sha256, number))


def test_killed_at_any_moment_and_run_again_it_equals_an_uninterrupted_run(
    tmp_path: Path, sound: Path
) -> None:
    folder = tmp_path / "log"
    sha256 = sound_files.sha256_of(sound)
    whole = all_of(sha256, COUNT)
    chance = random.Random(7)
    lengths = [0]
    for _ in range(KILLS):
        with adder(folder, sound, COUNT) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "start\n"
            steps = lengths[-1] // 3 + chance.randint(0, MOST_STEPS)
            acknowledged = [child.stdout.readline() for _ in range(steps)]
            time.sleep(chance.uniform(0, 0.005))  # somewhere inside the next write
            child.kill()
            acknowledged += child.stdout.read().split()
        with Log.open(folder, now=clock) as log:
            events = log.events(sha256)
            incomplete = [kept.complete for kept in log.recordings()] in ([], [False])
        assert events == whole[: len(events)]
        assert len(events) % 3 == 0, "an utterance was committed without its verdict"
        assert len(events) >= max(3 * len(acknowledged), lengths[-1])
        assert incomplete
        for kept in folder.glob("sound/*.wav"):
            assert kept.read_bytes() == sound.read_bytes()
        lengths.append(len(events))
    assert len(set(lengths)) > 3, "the kills did not fall within the work"

    for _ in range(2):  # to the end, and once more with nothing to do
        with adder(folder, sound, COUNT) as child:
            child.communicate()
        assert child.returncode == 0
        with Log.open(folder, now=clock) as log:
            assert log.events(sha256) == whole
            (kept_recording,) = log.recordings()
        assert kept_recording.complete
    assert [path.name for path in folder.glob("sound/*.wav")] == [f"{sha256}.wav"]


def test_programs_that_make_and_fill_one_log_at_once_never_fail(
    tmp_path: Path, sound: Path
) -> None:
    other = tmp_path / "evening.wav"
    other.write_bytes(b"another sound")
    folder = tmp_path / "log"
    children = [adder(folder, path, 60) for path in (sound, sound, other)]
    for child in children:
        child.communicate()
    assert [child.returncode for child in children] == [0, 0, 0]
    with Log.open(folder, now=clock) as log:
        for path in (sound, other):
            sha256 = sound_files.sha256_of(path)
            assert log.events(sha256) == all_of(sha256, 60)
        assert [kept.complete for kept in log.recordings()] == [True, True]


def test_threads_share_one_log(tmp_path: Path) -> None:
    morning = recording()
    with Log.open(tmp_path, now=clock) as log:
        log.begin_recording(morning)
        with ThreadPoolExecutor(4) as threads:
            added = threads.map(lambda number: log.append(spoken(morning.id, number)), range(40))
            assert list(added) == [3] * 40
        events = log.events(morning.id)
    assert sorted(event.id for event in events) == sorted(
        event.id for event in all_of(morning.id, 40)
    )
