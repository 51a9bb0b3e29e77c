"""What a few seconds of a given line show of a microphone, and what to change.

Pure: a level, what was heard and what was to be said come in, sentences come out.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.app.intake import RecognizedUtterance
from voicelog.model import Dog, SoundLevel
from voicelog.report.state_words import CHECK, NOT_UNDERSTOOD, SURE

__all__ = ["advice", "level_sentence", "phrase_statuses", "soundcheck_line"]

LOUD_CLIPPED = 0.0005
"""Share of clipped samples from which it is too loud; common practice, no source."""
QUIET_DBFS = -30.0
"""Peak below which speech is too quiet to stand above the device's own noise."""
NOISY_DB = 12.0
"""Speech to noise below which words are lost; common practice, no source."""
NARROW_HZ = 16_000
"""A device below this rate carries a telephone's voice only."""


def soundcheck_line(dog: Dog | None) -> tuple[str, ...]:
    """What to say, phrase by phrase, with a pause between."""
    name = dog.name.lower() if dog else ""
    start = (f"start session {name}",) if name else ()
    return (*start, "level two", "came", "no button", "line help")


def level_sentence(level: SoundLevel) -> str:
    """The level in a sentence."""
    if level.peak_dbfs is None:
        return "no sound at all"
    parts = [f"peak {level.peak_dbfs:.0f} dBFS"]
    parts.append(f"clipped {100 * (level.clipped_share or 0.0):.1f}%")
    snr = level.snr_db
    parts.append(f"speech {snr:.0f} dB above the noise" if snr is not None else "no speech in it")
    return ", ".join(parts)


def phrase_statuses(
    line: Sequence[str], heard: Sequence[RecognizedUtterance]
) -> tuple[tuple[str, str], ...]:
    """Of each phrase of the line: sure, check or not understood."""
    sure = _words(heard, "accepted")
    check = _words(heard, "doubtful")
    return tuple(
        (phrase, SURE if phrase in sure else CHECK if phrase in check else NOT_UNDERSTOOD)
        for phrase in line
    )


def advice(level: SoundLevel, rate: int, found: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """What to change, the gravest first; empty when all is well."""
    if level.peak_dbfs is None or (level.snr_db is None and level.peak_dbfs < -60.0):
        return ("Unmute the microphone, and see that its cable sits; or choose another, --device.",)
    said = []
    if (level.clipped_share or 0.0) > LOUD_CLIPPED:
        said.append("Turn the microphone down, or move it a hand away: it is overloaded.")
    elif level.peak_dbfs < QUIET_DBFS:
        said.append("Turn the microphone up, or bring it nearer to the mouth: it is quiet.")
    if level.snr_db is not None and level.snr_db < NOISY_DB:
        said.append("Get out of the wind, put a foam cover on it, or bring it nearer: it is noisy.")
    if rate < NARROW_HZ:
        said.append(
            f"Use another microphone if you can: this one gives {rate} Hz, a telephone's sound."
        )
    missed = [phrase for phrase, mark in found if mark == NOT_UNDERSTOOD]
    if missed and len(missed) == len(found):
        said.append("Nothing was understood: say it again, evenly, with a pause after each phrase.")
    elif missed:
        said.append(f"Not understood: {', '.join(missed)}; say it again to see whether it lasts.")
    return tuple(said)


def _words(heard: Sequence[RecognizedUtterance], status: str) -> str:
    """All that was heard with this status, for finding phrases in it."""
    return " | ".join(verdict.words for _, _, verdict in heard if verdict.status == status)
