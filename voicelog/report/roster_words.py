"""What is said of names and profiles that are refused, or kept otherwise than they were typed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.grammar.name_conflicts import NameConflict
from voicelog.grammar.sound_alikes import Mistaken
from voicelog.model import Dog
from voicelog.model.roster import LONGEST_MEANING
from voicelog.report.words import clean, date_words, still_to_come_words

__all__ = [
    "HEARD_AS",
    "born_later_words",
    "ceiling_above_words",
    "cues_words",
    "heard_as_words",
    "looks_alike_words",
    "no_meaning_words",
    "no_name_words",
    "no_such_cue_words",
    "off_roster_words",
    "on_roster_words",
    "slash_words",
    "tidied_words",
]


def tidied_words(name: str) -> str:
    """That a name is kept as `name`, which is not as it was typed."""
    return f"The name is kept as '{clean(name)}', without blanks and marks that cannot be seen."


HEARD_AS: dict[Mistaken, str] = {
    "same": "sounds the same as",
    "easily": "is easily heard as",
    "sometimes": "is sometimes heard as",
}
"""How soon a word is heard as another, as it stands between the two."""


def heard_as_words(one: NameConflict) -> str:
    """That a name or cue is heard as something else that may be said, and what to do."""
    what = "cue" if one.role == "cue" else "name"
    better = [f"'{word}'" for word in one.better]
    some = f"{', '.join(better[:-1])} or {better[-1]}" if better[1:] else "".join(better)
    others = f", for example {some}" if some else ""
    heard = f"{HEARD_AS[one.how]} '{clean(one.other)}'"
    if one.said.casefold() == one.other:
        heard = "is a word of the notes as well"
    return (
        f"The {what} '{clean(one.said)}' {heard}. "
        f"Another is safer{others}; or check it in the evening."
    )


def looks_alike_words(name: str, other: str) -> str:
    """That a new `name` looks like one that is there, in letters of any script."""
    return (
        f"Found '{clean(name)}', which looks like '{clean(other)}' on the roster, wanted a name "
        "that cannot be confused with it; add a second name to it."
    )


def slash_words(name: str) -> str:
    """That a new `name` has a slash."""
    return f"'{clean(name)}' has a slash, which no name that is called has; leave it out."


def cues_words(dog: Dog) -> str:
    """Its cues, each with what it asks for where that was given."""
    means = {cue: dog.meaning_of(cue) for cue in dog.cues}
    return clean(", ".join(f"{cue} ({means[cue]})" if means[cue] else cue for cue in dog.cues))


def no_meaning_words() -> str:
    """That what was given is no cue with its meaning."""
    return (
        f"A meaning is a cue and what it asks for, in at most {LONGEST_MEANING} characters; type "
        "it as hup=sit."
    )


def no_such_cue_words(cue: str, cues: Sequence[str]) -> str:
    """That a meaning was given for a `cue` that the dog does not have; `cues` are those it has."""
    have = clean(", ".join(cues)) or "none"
    return f"The dog has no cue '{clean(cue)[:40]}', only: {have}. Give it the cue first."


def no_name_words(length: int) -> str:
    """That a handler's name is empty, or of so many characters (`length`)."""
    if length:
        return f"The name has {length} characters, too many to be spoken; shorten it."
    return "The name is empty; type the one that is spoken."


def born_later_words(born: date) -> str:
    """That a day of birth lies in the future."""
    return still_to_come_words(date_words(born), "the day of birth")


def ceiling_above_words(ceiling: int, top: int) -> str:
    """That a ceiling lies above the transmitter's top level."""
    return (
        f"Found {ceiling} for never above level, but the transmitter ends at {top}; correct the "
        "ceiling or the top level."
    )


def on_roster_words(name: str) -> str:
    """That a name is on the roster."""
    return f"{clean(name)} is on the roster."


def off_roster_words(name: str) -> str:
    """That a name is off the roster, and what stays."""
    return f"{clean(name)} is off the roster; sessions stay as they are."
