"""Whether a recording that is to be added is in the log already, in another format.

The same bytes are known by their hash; this is for the voice memo that was added as M4A and comes
again as MP3. Only recordings of the same length, to a second, are compared, so a part that was cut
out of one is not recognised. Nothing is decided: a person is asked.

A file that grows on after it was taken in is longer than what is kept of it, and is known by its
name and by how it begins.
"""

from __future__ import annotations

from pathlib import Path

from voicelog.audio.errors import SoundFileError
from voicelog.audio.resampling import RATE
from voicelog.audio.sound_likeness import FRAME, likeness, sound_outline
from voicelog.model import VoicelogError
from voicelog.report.words import day
from voicelog.store import Log, StoredRecording

__all__ = ["SameRecordingError", "SameSoundError", "goes_on", "same_sound"]

_ALIKE = 0.8
"""The likeness from which two are asked about. In other formats a recording had 0.999 of itself,
shifted by half a frame 0.84, with noise at the level of a quiet yard 0.91; four recordings of the
same voices had at most 0.12 of each other (the demo's)."""
_LENGTH_S = 1.0
_START_S = 30.0
"""How much of the start of two recordings is compared, s."""


class SameRecordingError(VoicelogError):
    """A file is like one that is in the log. `path` is the file, `known` what it is like, `how` in
    what."""

    how: str

    def __init__(self, path: Path, known: StoredRecording) -> None:
        began = f", begun {day(known.started_at)}" if known.started_at else ""
        super().__init__(
            f"{path} {self.how} '{known.file_name}', which is in the log{began}, so it was left "
            "out; if it is another recording, add it with --anyway."
        )
        self.path, self.known = path, known


class SameSoundError(SameRecordingError):
    """A recording sounds like one that is in the log."""

    how = "sounds like"


def same_sound(log: Log, path: Path) -> StoredRecording | None:
    """The recording of the log that the file `path` sounds like, None where it is like none or
    cannot be read (which is said when it is heard)."""
    kept = [(one, log.sound_of(one)) for one in log.recordings() if one.complete]
    if not any(sound for _, sound in kept):
        return None
    try:
        outline = sound_outline(path)
    except (SoundFileError, OSError):
        return None
    length_s = len(outline) * FRAME / RATE
    for one, sound in kept:
        if sound is None or abs(one.duration_s - length_s) > _LENGTH_S:
            continue
        try:
            if likeness(outline, sound_outline(sound)) >= _ALIKE:
                return one
        except (SoundFileError, OSError):
            continue  # what is wrong with a kept file is for 'voicelog check'
    return None


def goes_on(log: Log, path: Path, length_s: float) -> bool:
    """Whether a file begins like a recording of the same name in the log and has another length, so
    that it is likely that one, grown since.

    Args:
        log: where to look.
        path: the file; raises what `AudioReader` raises.
        length_s: how long its sound is, s.
    """
    there = [
        sound
        for one in log.each_recording()
        if one.complete
        and one.file_name == path.name
        and abs(one.duration_s - length_s) > _LENGTH_S
        and (sound := log.sound_of(one)) is not None
    ]
    if not there:
        return False
    begin = sound_outline(path, most_s=_START_S)
    for sound in there:
        try:
            if likeness(begin, sound_outline(sound, most_s=_START_S)) >= _ALIKE:
                return True
        except (SoundFileError, OSError):
            continue  # what is wrong with a kept file is for 'voicelog check'
    return False
