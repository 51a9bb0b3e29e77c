"""Where the sound of a live recording lies while it grows, and how the log takes it in."""

from __future__ import annotations

from pathlib import Path

from voicelog.app.commit import RecordingCommit
from voicelog.audio.files import blocks
from voicelog.audio.flac import write_flac
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE
from voicelog.store import Log
from voicelog.store.log_lock import PHONE_FOLDER

__all__ = ["finish_live_recording", "is_from_phone", "live_file", "live_folder"]


def live_folder(log: Log) -> Path:
    """The folder of sound that is not in the log yet; made when it is missing."""
    folder = log.live_folder
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def live_file(log: Log, recording: str) -> Path:
    """The growing file of a live recording. `log` is the one it grows beside."""
    return log.live_folder / f"{recording}.wav"


def is_from_phone(log: Log, recording: str) -> bool:
    """Whether a recording's sound comes from a phone, which may have more of it."""
    return (log.live_folder.parent / PHONE_FOLDER / f"{recording}.json").is_file()


def finish_live_recording(commit: RecordingCommit, path: Path) -> None:
    """Keep the sound of a recording as FLAC, sample for sample, and mark the recording complete.

    The growing file at `path` is removed last, so a kill on the way costs nothing. Raises the
    errors of the log (a full disk) and of voicelog.audio (a file without sound).
    """
    meter, samples = LevelMeter(), 0
    for block in blocks(path):
        meter.add(block)
        samples += len(block)
    packed = path.with_suffix(".flac")
    write_flac(path, packed)
    commit.finish(samples / RATE, meter.result(), sound=packed)
    packed.unlink()
    path.unlink()
