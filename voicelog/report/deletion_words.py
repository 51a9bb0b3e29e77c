"""What is said of a deletion, before and after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Literal

from voicelog.report.state_words import listed_reps
from voicelog.report.words import clean, counted, date_words, day, listed

__all__ = [
    "DELETE_ASIDE",
    "DELETE_HALF",
    "STILL_HELD",
    "dog_found_line",
    "gone_line",
    "half_found_line",
    "leftover_line",
    "named_in_settings_line",
    "not_swept_line",
    "session_found_line",
    "sound_found_line",
]

STILL_HELD = "Backups, bundles, exports and the recorder's own files still hold what was in them."
DELETE_HALF = (
    "It cannot be added again afterwards. Complete it with 'voicelog add' instead if you still "
    "have the file; wait if it is being added or recorded right now."
)
DELETE_ASIDE = "What they say against a dog cannot be read, and would be forgotten."


def session_found_line(
    dog: str | None,
    day: date | None,
    counts: Mapping[str, int],
    entries: int,
    kept: Literal["typed", "sound", "no sound"],
    key: str,
) -> str:
    """A session that would go: `counts` are those of its row in the list of sessions, `entries` how
    many it has, `kept` what of them is kept beside."""
    whose = clean(dog or "") or "no dog named"
    what = f"{listed_reps(counts)}, {counted(entries, 'entry', 'entries')}, {_KEPT[kept]}"
    return f"{whose}, {date_words(day)}: {what} (id {key})"


_KEPT = {"typed": "typed notes", "sound": "their sound", "no sound": "no sound"}


def dog_found_line(dog: str, sessions: int, recordings: int, reps: int, entries: int) -> str:
    """What would go with a dog: its sessions with so many reps and entries, void ones too."""
    parts = []
    if sessions:
        of = f"{counted(reps, 'rep')}, {counted(entries, 'entry', 'entries')}"
        parts.append(f"{counted(sessions, 'session')} ({of})")
    if recordings:
        parts.append(f"sound or typed notes of {counted(recordings, 'recording')}")
    return f"{clean(dog)}: {listed(['its profile', *parts])}."


def sound_found_line(chosen: int, to_check: int, with_memos: int, with_matters: int) -> str:
    """Whose sound would go, and how many recordings keep theirs and why."""
    return (
        f"{counted(chosen, 'recording')}; left out are {to_check} with entries to check, "
        f"{with_memos} with memos and {with_matters} with open matters."
    )


def half_found_line(name: str, began: datetime) -> str:
    """A recording that was half added, and when that began."""
    return f"{clean(name)}, begun on {day(began)}"


def gone_line(events: int, sounds: int, recordings: int) -> str:
    """What was deleted."""
    return (
        f"Deleted: {counted(recordings, 'whole recording')}, "
        f"{counted(sounds, 'file')} of sound or typed notes, and {counted(events, 'line')} of the "
        "log about the notes."
    )


def leftover_line(paths: Iterable[object]) -> str:
    """Copies made before an upgrade, which are not touched; empty where there is none."""
    named = ", ".join(map(str, paths))
    return f"Not touched: {named}, made before an upgrade; delete it yourself." if named else ""


def named_in_settings_line(file: str, dog: str) -> str:
    """That a settings file names the dog, which is left to people."""
    return f"{file} names {clean(dog)}: take that out yourself."


def not_swept_line() -> str:
    """That traces may be left while another program has the log open."""
    return (
        "Another program has the log open, so traces may be left in the database; close it, and "
        "any next command cleans up."
    )
