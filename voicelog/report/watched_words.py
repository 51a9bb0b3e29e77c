"""What became of the files of a watched folder, in words."""

from __future__ import annotations

from voicelog.model.watching import FileDating, WatchedFile
from voicelog.report.added_words import added_words
from voicelog.report.words import clean, counted, date_words, day

__all__ = [
    "INSIDE_LOG",
    "NOT_WATCHING",
    "STOPPED_WATCHING",
    "arriving_words",
    "asked_words",
    "page_watching_words",
    "state_of_watch",
    "watched_words",
    "watching_words",
]

_OUTCOMES = {
    "there": "already in the log.",
    "grown": "it begins like the recording of that name in the log, but has another length, so it "
    "was left out; the log keeps the earlier one. If you want both: voicelog add FILE --anyway.",
    "cut": "it is not complete; it is taken in when the rest has come. If there is no "
    "rest: voicelog add FILE.",
    "conflict": "its name is that of a second copy, as sync programs make them, "
    "so it was left out. If it is a recording of its own: voicelog add FILE.",
    "waits": "",
}
NOT_WATCHING = "No folder is watched."
STOPPED_WATCHING = "The folder is not watched any more; what came from it stays in the log."
INSIDE_LOG = "Found the log's own folder, wanted another; choose the one that recordings come into."
_AGAIN = "It is tried again by itself."


def watched_words(found: WatchedFile) -> str:
    """What became of a file, in a line. `found` is what a look returned."""
    if found.added is not None:
        dated = "" if found.dating is None else f" {_dating_words(found.dating)}"
        return f"{found.name}: {added_words(found.added)}{dated}"
    if found.outcome == "waits":
        return f"{found.name}: {found.reason} {_AGAIN}"
    return f"{found.name}: {found.reason or _OUTCOMES.get(found.outcome, '')}"


def _dating_words(dating: FileDating) -> str:
    """What a recording's date is, and what says so; empty where there is none, which is said
    elsewhere."""
    at = dating.started_at
    if at is None:
        return ""
    again = "If it is another: voicelog add FILE --at TIME --redate."
    match dating.by:
        case "tags":
            return f"Begun {day(at)}, as the recording itself says."
        case "name":
            return f"Begun {day(at)}, as its name says."
        case "name's day":
            return f"Of {date_words(at)}, as its name says, at no known time. {again}"
        case _:
            return (
                f"Begun {day(at)}, worked out from the time of the file, which copying "
                f"may have changed. {again}"
            )


def watching_words(folder: str) -> str:
    """What is said when a watch begins. `folder` is its name."""
    return f"Watching {folder}: recordings that come there are heard and kept (stop with Ctrl-C)."


def page_watching_words(folder: str) -> str:
    """What is said when the page begins to watch. `folder` is its name."""
    return f"Watching {clean(folder)}: recordings that come there are heard and kept."


def state_of_watch(folder: str, arriving: int, *, at_work: bool) -> str:
    """How the watch of a folder stands, with how many files are `arriving` there."""
    if not at_work:
        return f"{clean(folder)} is chosen, and not looked at now."
    more = f" {counted(arriving, 'file')} not whole yet, or tried again soon." if arriving else ""
    return f"Watching {clean(folder)}.{more}"


def asked_words(count: int) -> str:
    """How many files wait for a person, before they are listed."""
    return f"{counted(count, 'file')} left out until you say more:"


def arriving_words(count: int) -> str:
    """How many files a single look has left for the next."""
    return f"{counted(count, 'file')} not whole yet; run it again."
