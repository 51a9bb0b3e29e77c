"""What can be wrong with a file of sound, one class per situation the user can mend.

Each carries the path as data (`.path`) and says one sentence: what was found, what was
wanted or is the matter, what to try. Sound that decodes but holds nothing useful (silence,
music, wind) is no error here; a file that is only partly readable is none either, see
`SoundFileInfo.note` in `voicelog.audio.files`.
"""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from voicelog.model import VoicelogError

__all__ = [
    "EmptyFileError",
    "IsFolderError",
    "MissingFileError",
    "NoSamplesError",
    "NoSoundTrackError",
    "NotAllowedError",
    "NotRecordingError",
    "ReadFailedError",
    "SoundFileError",
    "StrangeRateError",
    "UnfinishedFileError",
]


class SoundFileError(VoicelogError):
    """A file cannot be used as a recording. Base of all errors of this room."""

    sentence: ClassVar[str] = "{path} cannot be used as a recording; try another copy of it."

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.path = path

    def __str__(self) -> str:
        return self.sentence.format(path=self.path)


class MissingFileError(SoundFileError):
    """Nothing of that name is there."""

    sentence = "There is no file {path}; check the name and the folder."


class IsFolderError(SoundFileError):
    """The name is a folder's."""

    sentence = "{path} is a folder, not a recording; name the recordings in it."


class StrangeRateError(SoundFileError):
    """The file says a sample rate, in Hz, that no recorder has."""

    def __init__(self, path: Path, rate: int = 0) -> None:
        super().__init__(path)
        self.rate = rate

    def __reduce__(self) -> tuple[type[StrangeRateError], tuple[Path, int]]:
        return type(self), (self.path, self.rate)

    def __str__(self) -> str:
        return (
            f"{self.path} says that it has {self.rate} samples a second, which no recorder makes; "
            "copy it from the recorder again, or save it at 16000."
        )


class NotAllowedError(SoundFileError):
    """The system refuses to open the file."""

    sentence = "{path} may not be read; change its permissions, or copy it to your own folder."


class EmptyFileError(SoundFileError):
    """The file has 0 bytes."""

    sentence = "{path} is empty (0 bytes), not a recording; copy it from the recorder again."


class NotRecordingError(SoundFileError):
    """The bytes are not those of any format of sound that is known here."""

    sentence = (
        "{path} is not a recording that can be read; "
        "give WAV, FLAC, MP3, M4A, AAC, Ogg Vorbis or Opus."
    )


class UnfinishedFileError(SoundFileError):
    """An MP4 whose index was never written: phones write it last."""

    sentence = (
        "{path} ends before its index, so nothing in it can be read; "
        "copy it again, or open and save it on the phone that made it."
    )


class NoSoundTrackError(SoundFileError):
    """A film without sound."""

    sentence = "{path} has pictures but no sound track; give a recording with sound."


class NoSamplesError(SoundFileError):
    """A well-formed file of length zero."""

    sentence = "{path} is a recording of no length (0 s); check that the recorder had started."


class ReadFailedError(SoundFileError):
    """The disk, card or network gave an error while the file was being read."""

    sentence = "{path} could not be read to its end; copy it to this computer and try again."
