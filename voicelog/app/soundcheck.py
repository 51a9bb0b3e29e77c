"""A sound check: a few seconds of a given line, how they came in and what was understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from voicelog.app.intake import RecognizedUtterance
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.microphone_stream import MicrophoneStream
from voicelog.audio.resampling import Samples
from voicelog.model import Dog, Roster, SoundLevel, Status
from voicelog.model.soundcheck import SoundProblem

__all__ = [
    "MicrophoneCheck",
    "PhraseStatus",
    "Soundcheck",
    "check_microphone",
    "check_sound",
    "phrase_statuses",
    "sound_problems",
    "soundcheck_line",
]

LOUD_CLIPPED = 0.0005
"""Share of clipped samples from which it is too loud; common practice, no source."""
QUIET_DBFS = -30.0
"""Peak below which speech is too quiet to stand above the device's own noise."""
SILENT_DBFS = -60.0
"""Peak below which a device gives nothing at all; common practice, no source."""
LOW_SNR_DB = 12.0
"""Speech to noise below which words are lost; common practice, no source."""
NARROW_HZ = 16_000
"""A device below this rate carries a telephone's voice only."""

PhraseStatus = tuple[str, Status]
"""A phrase of the line, and how it was understood: accepted, doubtful or rejected."""


@dataclass(frozen=True, slots=True)
class Soundcheck:
    """What a sound check showed: the level, each phrase of the line, and what is wrong, the
    gravest first; `problems` is empty when all is well."""

    level: SoundLevel
    phrases: tuple[PhraseStatus, ...]
    problems: tuple[SoundProblem, ...]


@dataclass(frozen=True, slots=True)
class MicrophoneCheck:
    """What a microphone, by its name and rate (Hz), brought of the line."""

    name: str
    rate: int
    found: Soundcheck


def check_microphone(
    library: Any,
    line: Sequence[str],
    roster: Roster,
    *,
    seconds: float,
    device: str | None = None,
    rate: int | None = None,
) -> MicrophoneCheck:
    """Record the line from a microphone and hear it; nothing is kept.

    Args:
        library: PortAudio.
        line: what is said meanwhile, see `soundcheck_line`.
        roster: the names that are listened for.
        seconds: how long is recorded, s.
        device: a part of the microphone's name; None: the system's.
        rate: what to ask it for, Hz; None: its own.

    Raises DeviceError where it cannot be opened, and as `load_recognizers` does.
    """
    with MicrophoneStream(library, name=device, rate=rate) as stream:
        name, hz, sound = stream.name, stream.rate, stream.record(seconds)
    return MicrophoneCheck(name, hz, check_sound(line, sound, hz, roster))


def soundcheck_line(dog: Dog | None) -> tuple[str, ...]:
    """What to say, phrase by phrase, with a pause between. `dog` is named in it, if any."""
    name = dog.name.lower() if dog else ""
    start = (f"start session {name}",) if name else ()
    return (*start, "level two", "came", "no button", "line help")


def check_sound(line: Sequence[str], sound: Samples, rate: int, roster: Roster) -> Soundcheck:
    """Hear the line said once.

    Args:
        line: the phrases that were to be said, see `soundcheck_line`.
        sound: float32 samples at 16 kHz, -1 to 1.
        rate: what the device itself gives, Hz.
        roster: the names that are listened for.

    Raises as `load_recognizers` does.
    """
    meter = LevelMeter()
    meter.add(sound)
    level = meter.result()
    heard = list(load_recognizers(roster).recognize([sound], "check"))
    phrases = phrase_statuses(line, heard)
    return Soundcheck(level, phrases, sound_problems(level, rate, phrases))


def phrase_statuses(
    line: Sequence[str], heard: Sequence[RecognizedUtterance]
) -> tuple[PhraseStatus, ...]:
    """How each phrase of `line` was understood, wherever a pause fell in what was `heard`."""
    sure = _words(heard, "accepted")
    check = _words(heard, "doubtful")
    return tuple(
        (phrase, "accepted" if phrase in sure else "doubtful" if phrase in check else "rejected")
        for phrase in line
    )


def sound_problems(
    level: SoundLevel, rate: int, phrases: Sequence[PhraseStatus]
) -> tuple[SoundProblem, ...]:
    """What is wrong, the gravest first; empty when all is well.

    Args:
        level: how the sound came in.
        rate: what the device gives, Hz.
        phrases: how each phrase of the line was understood; none where nothing was to be said.
    """
    silent = level.peak_dbfs is None or (level.snr_db is None and level.peak_dbfs < SILENT_DBFS)
    if level.peak_dbfs is None or silent:
        return ("no sound",)
    found: list[SoundProblem] = []
    if (level.clipped_share or 0.0) > LOUD_CLIPPED:
        found.append("overloaded")
    elif level.peak_dbfs < QUIET_DBFS:
        found.append("quiet")
    if level.snr_db is not None and level.snr_db < LOW_SNR_DB:
        found.append("noisy")
    if rate < NARROW_HZ:
        found.append("narrow")
    missed = [status == "rejected" for _, status in phrases]
    if any(missed):
        found.append("nothing understood" if all(missed) else "some missed")
    return tuple(found)


def _words(heard: Sequence[RecognizedUtterance], status: Status) -> str:
    """All that was heard with this status, for finding phrases in it."""
    return " | ".join(verdict.words for _, _, verdict in heard if verdict.status == status)
