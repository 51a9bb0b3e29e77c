"""Clips are cut to the sample, and nothing outside the log's own sound is ever opened."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.web.evening import LEVELS, keep, tone
from voicelog.app.review.errors import BadRequestError, NoSoundError
from voicelog.store import Log, StoredRecording
from voicelog.web.clips import Clips


@pytest.fixture
def clips(log: Log) -> Iterator[Clips]:
    made = Clips(log)
    yield made
    made.close()


def kept(log: Log, recording: str) -> StoredRecording:
    found = log.recording(recording)
    assert found is not None
    return found


def samples(wav: bytes) -> np.ndarray:
    with wave.open(io.BytesIO(wav)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (16_000, 1, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2")


def test_a_clip_is_that_stretch_and_no_other(log: Log, clips: Clips) -> None:
    sound = tone(32.0)
    recording = kept(log, keep(log, LEVELS, sound=sound))
    clip = samples(clips.wav(recording, 11.3, 14.2))
    whole = samples(sound)
    assert len(clip) == round(2.9 * 16_000)
    difference = clip.astype(int) - whole[round(11.3 * 16_000) : round(14.2 * 16_000)].astype(int)
    assert np.abs(difference).max() <= 1


def test_a_clip_ends_with_the_sound(log: Log, clips: Clips) -> None:
    recording = kept(log, keep(log, LEVELS, sound=tone(2.0)))
    assert len(samples(clips.wav(recording, 1.5, 4.0))) == 8_000
    with pytest.raises(NoSoundError, match="ends before that"):
        clips.wav(recording, 3.0, 4.0)


@pytest.mark.parametrize(
    ("start", "end"), [(2.0, 1.0), (-1.0, 1.0), (0.0, 61.0), (0.0, float("nan"))]
)
def test_what_is_no_stretch_is_refused(log: Log, clips: Clips, start: float, end: float) -> None:
    recording = kept(log, keep(log, LEVELS, sound=tone(2.0)))
    with pytest.raises(BadRequestError, match="wanted at most 60 s"):
        clips.wav(recording, start, end)


def test_a_typed_recording_has_no_sound(log: Log, clips: Clips) -> None:
    recording = kept(log, keep(log, LEVELS, listeners=("typed 1",)))
    with pytest.raises(NoSoundError, match="typed"):
        clips.wav(recording, 0, 1)


def test_missing_and_unreadable_sound_is_said_so(log: Log, clips: Clips) -> None:
    recording = kept(log, keep(log, LEVELS, sound=tone(2.0)))
    assert recording.sound is not None
    (log.folder / recording.sound).write_bytes(b"no sound at all" * 100)
    with pytest.raises(NoSoundError, match="Found nothing to play in this recording: "):
        clips.wav(recording, 0, 1)
    (log.folder / recording.sound).unlink()
    with pytest.raises(NoSoundError, match="put it back from a backup"):
        clips.wav(recording, 0, 1)


@pytest.mark.parametrize("where", ["../outside.wav", "/etc/hostname", "log.sqlite3"])
def test_nothing_but_the_logs_own_sound_is_opened(log: Log, clips: Clips, where: str) -> None:
    recording = kept(log, keep(log, LEVELS, sound=tone(2.0)))
    (log.folder.parent / "outside.wav").write_bytes(tone(2.0))
    with pytest.raises(NoSoundError, match="Found no sound"):
        clips.wav(recording.model_copy(update={"sound": where}), 0, 1)


def test_a_link_out_of_the_folder_is_not_followed(log: Log, clips: Clips, tmp_path: Path) -> None:
    recording = kept(log, keep(log, LEVELS, sound=tone(2.0)))
    outside = tmp_path / "outside.wav"
    outside.write_bytes(tone(2.0))
    assert recording.sound is not None
    inside = log.folder / recording.sound
    inside.unlink()
    inside.symlink_to(outside)
    with pytest.raises(NoSoundError, match="Found no sound"):
        clips.wav(recording, 0, 1)
