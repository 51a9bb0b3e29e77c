"""The sound of a note: where it is kept, and the stretch of it that one wants to hear again."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from voicelog.app.review.errors import NoSoundError
from voicelog.audio.files import AudioReader
from voicelog.audio.resampling import RATE, Samples
from voicelog.store import Log, StoredRecording

__all__ = ["AROUND_S", "sound_between", "sound_path"]

AROUND_S = 0.7
"""Seconds of sound that are played before and after a note, as on the page."""


def sound_path(log: Log, recording: StoredRecording) -> Path:
    """Where the sound of a recording of the log is.

    Raises:
        NoSoundError: it was typed, or its sound is not in the log's folder.
    """
    if any(name.startswith("typed") for name in recording.listeners):
        raise NoSoundError("This recording was typed, so there is no sound to play.")
    path = log.sound_of(recording)
    folder = log.folder.resolve()
    if path is None or not path.resolve().is_relative_to(folder):
        raise NoSoundError(
            f"Found no sound of {recording.file_name or 'this recording'} in the log's "
            "folder, wanted it in 'sound'; put it back from a backup, or read on without."
        )
    return path


def sound_between(log: Log, recording: StoredRecording, start_s: float, end_s: float) -> Samples:
    """A stretch of a recording (float32, mono, at RATE), from `start_s` to `end_s` (s) with
    `AROUND_S` on each side. Only what comes before its end is decoded.

    Raises:
        NoSoundError: as `sound_path`; or the sound ends before that.
        VoicelogError: the file cannot be decoded.
    """
    first = max(0, round((start_s - AROUND_S) * RATE))
    last = round((end_s + AROUND_S) * RATE)
    found: list[Samples] = []
    at = 0
    with AudioReader(sound_path(log, recording)) as reader:
        for block in reader:
            if at + len(block) > first:
                found.append(block[max(0, first - at) : max(0, last - at)])
            at += len(block)
            if at >= last:
                break
    if not found:
        raise NoSoundError(f"Found {at / RATE:.0f} s of sound, wanted that at {start_s:.0f} s.")
    return np.concatenate(found)
