"""Sound on disk as it comes: readable at every moment, and patient with a full disk."""

from __future__ import annotations

import errno
import os
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.audio.errors import EmptyFileError, NoSamplesError, NotRecordingError
from voicelog.audio.files import AudioReader
from voicelog.audio.recorder import Pcm, Recorder, as_float, as_pcm, read_pcm
from voicelog.audio.resampling import RATE

SECONDS = 3


def noise(seconds: float, seed: int = 1) -> Pcm:
    rng = np.random.default_rng(seed)
    return rng.integers(-20_000, 20_000, round(seconds * RATE)).astype(np.int16)


def read(path: Path) -> Pcm:
    with AudioReader(path) as reader:
        return as_pcm(np.concatenate(list(reader)))


def test_what_is_kept_is_what_a_reader_gives_to_the_last_bit(tmp_path: Path) -> None:
    sound = noise(SECONDS)
    recorder = Recorder(tmp_path / "a.wav", datetime.fromisoformat("2026-04-18T07:30:05+02:00"))
    for start in range(0, len(sound), 777):
        recorder.write(sound[start : start + 777])
    recorder.close()
    assert recorder.trouble is None
    with AudioReader(recorder.path) as reader:
        heard = np.concatenate(list(reader))
    assert np.array_equal(heard, as_float(sound))
    assert np.array_equal(as_pcm(heard), sound)
    recording = reader.recording
    assert recording.note is None
    assert recording.duration_s == SECONDS
    assert recording.started_at == datetime.fromisoformat("2026-04-18T07:30:05+02:00")


def test_a_growing_file_is_readable_to_its_last_sample(tmp_path: Path) -> None:
    sound = noise(SECONDS)
    recorder = Recorder(tmp_path / "a.wav")
    for start in range(0, len(sound), RATE // 2):
        recorder.write(sound[start : start + RATE // 2])
        so_far = sound[: start + RATE // 2]
        assert np.array_equal(read(recorder.path), so_far)
        assert np.array_equal(read_pcm(recorder.path), so_far)
    recorder.close()


@given(length=st.integers(0, 44 + 2 * RATE))
def test_cut_at_any_byte_it_gives_every_whole_sample_before(
    tmp_path_factory: pytest.TempPathFactory, length: int
) -> None:
    folder = tmp_path_factory.mktemp("cut")
    sound = noise(1.0)
    recorder = Recorder(folder / "a.wav")
    recorder.write(sound)
    whole = recorder.path.read_bytes()
    recorder.close()
    cut = folder / "cut.wav"
    cut.write_bytes(whole[:length])
    samples = max(0, length - (len(whole) - 2 * len(sound))) // 2
    if samples:
        assert np.array_equal(read(cut), sound[:samples])
    else:
        with pytest.raises((EmptyFileError, NoSamplesError, NotRecordingError)):
            read(cut)


def test_it_is_synced_each_second(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[int] = []
    fsync = os.fsync

    def counting(handle: int) -> None:
        synced.append(os.fstat(handle).st_size)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", counting)
    recorder = Recorder(tmp_path / "a.wav")
    for _ in range(35):
        recorder.write(noise(0.1))
    gaps = np.diff(synced) / 2 / RATE
    assert len(synced) == 4
    assert np.all(gaps[1:] <= 1.1)
    recorder.close()


def test_a_full_disk_is_said_and_written_when_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recorder = Recorder(tmp_path / "a.wav")
    sound = noise(SECONDS)
    recorder.write(sound[:RATE])
    write, room = os.write, [5000]

    def short_of_room(handle: int, data: bytes) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, "No space left on device")
        part = memoryview(data)[: room[0]]
        room[0] -= len(part)
        return write(handle, part)

    monkeypatch.setattr(os, "write", short_of_room)
    recorder.write(sound[RATE : 2 * RATE])
    recorder.write(sound[2 * RATE :])
    assert recorder.trouble == "No space left on device"
    assert recorder.unsaved_s == 2.0
    assert np.array_equal(read(recorder.path)[:RATE], sound[:RATE])
    room[0] = 10_000_000
    recorder.write(sound[:0])
    assert recorder.trouble is None
    assert recorder.unsaved_s == 0.0
    recorder.close()
    assert np.array_equal(read(recorder.path), sound)


def test_it_never_writes_over_another_recording(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"here before")
    with pytest.raises(FileExistsError):
        Recorder(tmp_path / "a.wav")
    assert (tmp_path / "a.wav").read_bytes() == b"here before"
