"""What came of a file that was added to the log, as codes and numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

__all__ = ["AddedFile", "Dating", "DatingOutcome", "HeardFile", "NamedDog"]

DatingOutcome = Literal["left", "other", "set", "no utterance"]
"""What became of the date of a recording that is there: left as it is; left though the one given
is another; set to the one given; not set, since nothing was heard that it could be given to."""


@dataclass(frozen=True, slots=True)
class Dating:
    """What became of the date of a recording that is there.

    `began` is when it began as far as the log knew, `given` the time that came with the file.
    Either is None where there is none, and naive where its zone is not known.
    """

    outcome: DatingOutcome
    began: datetime | None
    given: datetime | None


@dataclass(frozen=True, slots=True)
class NamedDog:
    """A dog that a recording names as the one worked, `at_s` seconds in it.

    `dog` is who was read; `sound` the word that is likest to what was heard in place of a name that
    may not be on the roster, "" where the name is sure.
    """

    at_s: float
    dog: str
    sound: str = ""


@dataclass(frozen=True, slots=True)
class HeardFile:
    """What was heard of a file: how many utterances are accepted, doubtful and rejected.

    `note` is what the user must know of its sound or of who heard it, else None. `dated`: it has
    a time. `named`: the dogs in it that are not surely the one that was given with it, each once.
    `recording` is the id that it has in the log.
    """

    accepted: int
    doubtful: int
    rejected: int
    note: str | None
    dated: bool
    named: tuple[NamedDog, ...] = ()
    recording: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class AddedFile:
    """What came of one file.

    heard: None where it was in the log already, complete.
    as_begun: it was cut short, and completed with other dogs or settings than those of today.
    dating: of one that was in the log, None where its date was not at issue.
    """

    heard: HeardFile | None
    as_begun: bool = False
    dating: Dating | None = None
