"""Where the sound of a live recording lies while it grows, and how the log takes it in."""

from __future__ import annotations

from pathlib import Path

from voicelog.audio.files import blocks
from voicelog.audio.flac import write_flac
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE
from voicelog.store import Log
from voicelog.store.sound_files import sha256_of

__all__ = ["live_file", "live_folder", "store_recording"]


def live_folder(log: Log) -> Path:
    """The folder of sound that is not in the log yet; made when it is missing."""
    folder = log.folder / "live"
    folder.mkdir(exist_ok=True)
    return folder


def live_file(log: Log, recording: str) -> Path:
    """The growing file of a live recording."""
    return log.folder / "live" / f"{recording}.wav"


def store_recording(log: Log, recording: str, path: Path) -> None:
    """Keep the sound as FLAC, sample for sample, and mark the recording complete.

    The growing file is removed last, so a kill on the way costs nothing. Raises the errors of
    the log (a full disk) and of the sound room (a file without sound).
    """
    meter, samples = LevelMeter(), 0
    for block in blocks(path):
        meter.add(block)
        samples += len(block)
    packed = path.with_suffix(".flac")
    write_flac(path, packed)
    sha256 = sha256_of(packed)
    kept = log.store_sound(packed, sha256)
    log.finish_recording(
        recording,
        sha256=sha256,
        sound=str(kept.relative_to(log.folder).as_posix()),
        duration_s=samples / RATE,
        level=meter.result(),
    )
    packed.unlink()
    path.unlink()
