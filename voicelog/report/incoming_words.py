"""What is said of files on their way into the log, as the page shows them."""

from __future__ import annotations

from datetime import datetime

from voicelog.model.incoming import IncomingFile
from voicelog.report.hearing_words import LOADING, heard_words
from voicelog.report.words import clean, day, still_to_come_words

__all__ = [
    "DEMO_HEARD",
    "GAVE_UP",
    "begun_later_words",
    "inside_words",
    "no_room_words",
    "not_waiting_words",
    "restored_words",
    "same_recording_words",
    "state_of_incoming",
    "unlike_words",
    "wrong_file_words",
]

DEMO_HEARD = "Heard. It is invented, and nothing of it is kept in the log."
GAVE_UP = "Hearing it was cut short three times, so it was left; choose it again to try once more."
_MB = 1_000_000


def state_of_incoming(one: IncomingFile, have: int) -> str:
    """How far a file is, in a line. `have` is how many of its bytes are there."""
    match one.state:
        case "arriving":
            there = f"{have / _MB:.1f} of {one.size / _MB:.1f} MB are here"
            return f"{there}; choose the same file again to go on." if have < one.size else there
        case "waiting":
            return "Waits to be heard."
        case "hearing" if one.heard_s:
            return f"{heard_words(one.heard_s, one.total_s)}."
        case "hearing":
            return f"{LOADING.capitalize()}."
        case "done" | "like another" | "refused":
            told = one.told.strip()
            return f"{told[:1].upper()}{told[1:]}"


def same_recording_words(how: str, name: str, began: datetime | None) -> str:
    """That a file is like the recording `name`, `how` it is, when that `began`, and what is
    asked."""
    of = f", of {day(began)}" if began else ""
    return (
        f"It {how} '{clean(name)}'{of}, which is in the log, so it was left out. If it is "
        "another recording, add it anyway."
    )


def restored_words(merged: str, left_out: str, *, settings: bool) -> str:
    """What a backup came to: `merged` and `left_out` as the merge says, and its settings."""
    taken = "The settings of the backup were taken too." if settings else ""
    return " ".join(filter(None, (merged, taken, left_out)))


def inside_words(what: str) -> str:
    """That the program made a mistake, of the kind `what`."""
    return f"Something went wrong inside ({what}); nothing was lost, and the terminal says more."


def no_room_words(name: str, size: int) -> str:
    """That the disk has no room for a file of so many bytes (`size`)."""
    return (
        f"Found too little room on the disk for '{clean(name)}' ({size / _MB:.0f} MB); make room "
        "and choose it again."
    )


def begun_later_words(began: datetime) -> str:
    """That a recording cannot have begun in the future."""
    return still_to_come_words(day(began), "when it was recorded")


def wrong_file_words(name: str) -> str:
    """That nothing can be received under that name, or nothing is known of it."""
    of = f" '{clean(name)}'" if name else ""
    return f"Found no file{of} to receive; choose it again."


def unlike_words(name: str, have: int) -> str:
    """That a piece of a file does not follow on the `have` bytes that are there."""
    return f"Found a piece of '{clean(name)}' out of its place, wanted the one after byte {have}."


def not_waiting_words(name: str) -> str:
    """That a file does not wait for what was asked."""
    return f"'{clean(name)}' is not waiting for that now; reload this page to see how far it is."
