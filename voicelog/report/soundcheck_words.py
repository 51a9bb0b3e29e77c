"""Sentences of a sound check: how a microphone sounds, and what to change of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from voicelog.model import SoundLevel
from voicelog.model.soundcheck import SoundProblem
from voicelog.report.words import Face

__all__ = ["NOTHING_TO_CHANGE", "level_words", "problem_words"]

NOTHING_TO_CHANGE = "Nothing to change."

_PROBLEMS: Mapping[SoundProblem, str] = {
    "no sound": "Unmute the microphone, and check its cable; or choose another{another}.",
    "overloaded": "Turn the microphone down, or move it a hand's width away: it is overloaded.",
    "quiet": "Turn the microphone up, or bring it nearer to the mouth: it is quiet.",
    "noisy": "Get out of the wind, put a foam cover on it, or bring it nearer: it is noisy.",
    "narrow": "Use another microphone if you can: this one gives {rate} Hz, a telephone's sound.",
    "nothing understood": (
        "Nothing was understood: say it again, evenly, with a pause after each phrase."
    ),
    "some missed": "Not understood: {missed}; say it again to see whether it happens again.",
}
_ANOTHER: Mapping[Face, str] = {"terminal": ", --device", "page": " in the list"}


def level_words(level: SoundLevel) -> str:
    """A level in words: peak (dBFS), clipped share (%), speech over the noise (dB)."""
    if level.peak_dbfs is None:
        return "no sound at all"
    parts = [f"peak {level.peak_dbfs:.0f} dBFS"]
    parts.append(f"clipped {100 * (level.clipped_share or 0.0):.1f}%")
    snr = level.snr_db
    parts.append(f"speech {snr:.0f} dB above the noise" if snr is not None else "no speech in it")
    return ", ".join(parts)


def problem_words(
    problem: SoundProblem, *, rate: int, missed: Iterable[str] = (), face: Face | None = None
) -> str:
    """What to change.

    Args:
        problem: what is wrong.
        rate: what the device gives, Hz.
        missed: the phrases of the line that were not understood.
        face: where another microphone can be chosen; None: not here, it is of a recording.
    """
    another = "" if face is None else _ANOTHER[face]
    return _PROBLEMS[problem].format(rate=rate, missed=", ".join(missed), another=another)
