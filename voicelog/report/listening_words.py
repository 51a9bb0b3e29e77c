"""What the page says of a live session."""

from __future__ import annotations

from voicelog.report.words import Face, clean, counted

__all__ = [
    "ALREADY",
    "NOT_AT_WORK",
    "NO_DOGS",
    "STARTED",
    "STOPPED",
    "cut_short_before_words",
    "cut_short_words",
    "state_line",
]

ALREADY = "A live session is already running on this log; stop it first."
NOT_AT_WORK = "No live session is running; nothing was stopped."
NO_DOGS = "Found no dog on the roster, wanted one whose name can be said; add it under Dogs first."
STARTED = "Starting; it says 'Listening' when it hears."
STOPPED = "Ending; all that was heard is kept."


def state_line(*, at_work: bool, starting: bool, ending: bool) -> str:
    """How the live session stands."""
    if at_work:
        return "A live session is running."
    if starting:
        return "A live session is starting."
    return "The session is ending." if ending else "No live session is running."


def cut_short_words(count: int) -> str:
    """That recordings were cut short, and are safe; empty for none."""
    if not count:
        return ""
    return f"{counted(count, 'live recording')} cut short; the sound is safe and can be completed."


def cut_short_before_words(name: str, face: Face) -> str:
    """What a session that begins says of a recording cut short before. `name` is of its file, and
    `face` where that is read."""
    how = "with voicelog listen --resume" if face == "terminal" else "on this page, once this ends"
    return f"Found {clean(name)} cut short; its sound is safe, complete it in the evening {how}."
