"""Sentences for the screen of a live session: what to do, and what goes wrong with the machine."""

from __future__ import annotations

import math
from datetime import datetime

from voicelog.report.words import counted, day

__all__ = [
    "EARPHONE_STUCK",
    "ENDING",
    "GETTING_READY",
    "HEARING_LOST",
    "HINT",
    "MICROPHONE_STUCK",
    "NO_DOG_YET",
    "STORING",
    "clock_behind_words",
    "clock_jump_words",
    "disk_full_words",
    "earphone_gone_words",
    "hearing_stuck_words",
    "not_heard_words",
    "not_whole_words",
    "slept_words",
]

HINT = "Ctrl-C ends the session"
ENDING = "Hearing the last of it; Ctrl-C again leaves that for voicelog listen --resume"
GETTING_READY = "getting ready to hear"
MICROPHONE_STUCK = "Nothing is heard, the microphone is stuck. End, then start listening again."
EARPHONE_STUCK = "it takes no sound"
HEARING_LOST = "Nothing is heard, only recorded. End, then run voicelog listen --resume."
NO_DOG_YET = "no dog yet: say start session and a name"
STORING = "Putting the sound into the log."


def clock_behind_words(now: datetime, last: datetime) -> str:
    """The clock says `now`, which is before the `last` recording of the log began."""
    return (
        f"Found the clock at {day(now)}, before the log's last recording "
        f"({day(last)}), wanted it later; set the clock, or the order of sessions will "
        "be wrong."
    )


def disk_full_words(reason: Exception | str | None) -> str:
    """The disk refuses what is to be kept, for this reason."""
    return f"The disk cannot be written ({reason}); free some space, it goes on in memory."


def clock_jump_words(jumped_s: float) -> str:
    """The machine's wall clock was set by so many seconds (s), back where that is negative."""
    direction = "forward" if jumped_s > 0 else "back"
    return f"The clock was set {direction} by {abs(jumped_s):.0f} s; the session goes on."


def earphone_gone_words(reason: Exception | str) -> str:
    """The earphone is silent, for this reason."""
    return f"The earphone is silent, and nothing sounds in its place ({reason})."


def hearing_stuck_words(seconds: float) -> str:
    """Hearing has not moved for so many seconds (s), while there was sound to hear."""
    return f"Hearing stood still for {counted(round(seconds), 'second')}; it is started again."


def not_heard_words(seconds: float) -> str:
    """The session ended while nothing was heard, for so many seconds (s)."""
    return f"The last {counted(round(seconds), 'second')} were not heard: no sound came."


def not_whole_words(unsaved_s: float, *, disk_full: bool) -> str:
    """A session ended of which not all is in the log; `unsaved_s` of its sound (s) were in memory
    only. `disk_full`: the disk took no more."""
    if not disk_full:
        return (
            "Not all of it is in the log yet, but all its sound is on disk: voicelog listen "
            "--resume takes in the rest."
        )
    lost = (
        f"the last {counted(math.ceil(unsaved_s), 'second')} of sound were in memory only and are "
        "lost"
        if unsaved_s > 0
        else "all its sound is on disk, and not all its notes are in the log"
    )
    return (
        f"Found the disk full: {lost}. Free some space, then voicelog listen --resume takes in "
        "what is on disk."
    )


def slept_words(slept_s: float) -> str:
    """The machine slept for so many seconds (s) while a session ran."""
    return (
        f"The machine slept for {counted(round(slept_s), 'second')} and heard nothing meanwhile; "
        "the session goes on."
    )
