"""What came of a file that was added, in words."""

from __future__ import annotations

from datetime import datetime

from voicelog.model.adding import AddedFile, Dating, NamedDog
from voicelog.report.words import clean, clock, counted, day

__all__ = ["ADDED_NEXT", "added_words", "left_out_words", "nameless_words"]

_THERE = "already in the log"
_THERE_LEFT = f"{_THERE}, left as it is"
_NO_DATE = "it has no date, which rules of the day need: "
_HOW_TO_DATE = ("add it again with --at 'DAY TIME', when it began", "open it and set when it began")
_HOW_TO_REDATE = ("add it again with --redate", "open it and set that")
_HOW_TO_NAME = ("voicelog questions", "More, Names that are not known")
"""What to do, in the terminal and on the page."""


def added_words(added: AddedFile, *, at_page: bool = False) -> str:
    """What came of a file, in a sentence or more. `added` is what `add_file` returns; `at_page`:
    it is read on the page, where they follow one another; in the terminal each has its line."""
    dateless = f"{_NO_DATE}{_HOW_TO_DATE[at_page]}"
    heard, dating = added.heard, added.dating
    if heard is None:
        return _THERE_LEFT if dating is None else _dating(dating, dateless, at_page)
    said = [
        f"{counted(heard.accepted, 'note')} sure, {heard.doubtful} to check, "
        f"{heard.rejected} not understood.",
        *(_named(one, at_page) for one in heard.named),
        heard.note,
        None if heard.dated else f"{dateless[0].upper()}{dateless[1:]}.",
        "Completed with the dogs and settings it was begun with." if added.as_begun else None,
        f"It was {_dating(dating, dateless, at_page)}" if dating is not None else None,
    ]
    return ("\n" if not at_page else " ").join(filter(None, said))


def _named(one: NamedDog, at_page: bool) -> str:
    """That the recording names a dog that is not, or not surely, the one given with it."""
    dog, at = clean(one.dog), clock(one.at_s)
    if not one.sound:
        return f"At {at} {dog} is named: what follows is {dog}'s."
    return (
        f"At {at} a dog is named that may not be on the roster: it sounded like "
        f"'{clean(one.sound)}' and is taken for {dog}. No rep after it counts until you say whose "
        f"it is: {_HOW_TO_NAME[at_page]}."
    )


def nameless_words(name: str, session: str) -> str:
    """That a file of this name has reps or what is grave of no dog, in the session of that id, and
    how to say whose they are."""
    return (
        f"{clean(name)}: no dog was named, so its notes count for none: say whose with 'voicelog "
        f"correct --session {clean(session)} --to DOG'. Next time: --dog DOG, or begin the notes "
        "with 'start session DOG'."
    )


ADDED_NEXT = (
    "Next: 'voicelog review' to check the entries on the page (or 'voicelog correct' here), "
    "'voicelog summary' to read the session, 'voicelog plan DOG' for the next one."
)
"""What to do once recordings were added in the terminal."""


def left_out_words(taken: int, left_out: int) -> str:
    """How many files are taken, and how many of the folders named are not (`left_out`)."""
    files = f"{taken} file{'s' if taken != 1 else ''}"
    return f"{files} to take; {left_out} left out (hidden, temporary, or neither sound nor text)."


def _dating(dating: Dating, dateless: str, at_page: bool) -> str:
    """What to say of a recording that is there, and of its date."""
    began, given = dating.began, dating.given
    if given is None:
        return _THERE_LEFT if began else f"{_THERE_LEFT}; {dateless}"
    match dating.outcome:
        case "left":
            return _THERE_LEFT
        case "other":
            return (
                f"{_THERE} as of {_time(began)}, not {_time(given)}, and left unchanged; if "
                f"{_time(given)} is right, {_HOW_TO_REDATE[at_page]}"
            )
        case "no utterance":
            return f"{_THERE_LEFT}: nothing was heard in it that a date could be given to"
        case "set":
            was = f" instead of {_time(began)}" if began else ", which it did not have"
            return f"{_THERE}; its date is now {_time(given)}{was}"


def _time(at: datetime | None) -> str:
    return day(at) if at else ""
