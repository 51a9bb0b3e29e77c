"""A recording gets into the log in three steps, also past a disk that refuses for a while."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.audio.making import noise, write
from voicelog.app.commit import BufferedCommit, RecordingCommit
from voicelog.model import Event, FieldEvent, SoundLevel
from voicelog.store import DiskFullError, Log, Recording, SetAsideError


def wall() -> datetime:
    return datetime(2026, 4, 18, 7, 30, tzinfo=UTC)


def event(number: int) -> Event:
    return FieldEvent(id=f"f-{number}", recording="r", at_s=float(number), what="tone")


def whole(folder: Path) -> tuple[Path, Recording]:
    """A file, and the recording that it is."""
    path = write(folder / "a.wav", noise(1, 0.1))
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    return path, Recording(id=sha256, sha256=sha256)


def test_sound_that_is_whole_is_kept_before_the_recording_begins(tmp_path: Path) -> None:
    path, recording = whole(tmp_path)
    with Log.open(tmp_path / "log", now=wall) as log:
        commit = RecordingCommit(log, recording.id)
        assert commit.begin(recording, path)
        (begun,) = log.recordings()
        sound = log.sound_of(begun)
        assert not begun.complete
        assert sound is not None
        assert sound.read_bytes() == path.read_bytes()
        assert commit.begin(recording, path)  # taken up again
        commit.finish(1.0, SoundLevel())
        assert log.recordings()[0].complete
        assert not commit.begin(recording, path)


def test_sound_that_grew_is_kept_when_the_recording_ends(tmp_path: Path) -> None:
    path, there = whole(tmp_path)
    with Log.open(tmp_path / "log", now=wall) as log:
        commit = RecordingCommit(log, "r")
        assert commit.begin(Recording(id="r"))
        assert commit.append([event(1).model_copy(update={"recording": "r"})])
        commit.finish(1.0, SoundLevel(), sound=path)
        (kept,) = log.recordings()
        assert (kept.complete, kept.sha256, kept.duration_s) == (True, there.sha256, 1.0)
        assert log.sound_of(kept) is not None
        assert path.exists()


def test_what_a_file_brought_is_derived_on_trial_before_it_begins(tmp_path: Path) -> None:
    path, recording = whole(tmp_path)
    strange = recording.model_copy(update={"settings": {"no such setting": 1}})
    with Log.open(tmp_path / "log", now=wall) as log:
        with pytest.raises(SetAsideError):
            RecordingCommit(log, recording.id).begin(strange, path)
        assert log.recordings() == ()


def test_what_a_full_disk_refused_is_kept_in_order_when_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Log.open(tmp_path, now=wall) as log:
        commit = BufferedCommit(log, "r")
        assert commit.begin(Recording(id="r"))
        assert commit.append([event(1)])
        append, full = log.append, True

        def sometimes(new: Any) -> int:
            if full:
                raise DiskFullError(tmp_path)
            return append(new)

        monkeypatch.setattr(log, "append", sometimes)
        assert not commit.append([event(2), event(3)])
        assert not commit.append([event(4)])
        assert isinstance(commit.trouble, DiskFullError)
        assert commit.waiting == 2
        full = False
        assert commit.append([event(5)])
        assert commit.trouble is None
        assert log.events("r") == tuple(map(event, (1, 2, 3, 4, 5)))


def test_a_mistake_of_the_program_is_not_taken_for_a_full_disk(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=wall) as log:
        commit = BufferedCommit(log, "r")
        with pytest.raises(Exception, match="names r, which is not in this log"):
            commit.append([event(1)])
