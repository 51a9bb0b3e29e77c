"""What was said: an utterance with its current reading."""

from __future__ import annotations

from pydantic import SkipValidation

from voicelog.model.base import FrozenModel
from voicelog.model.events import By, Status
from voicelog.model.phrases import Phrase

__all__ = ["Entry"]


class Entry(FrozenModel):
    """An utterance with its current reading; the truth that everything else derives from."""

    id: str
    recording: str = ""
    start_s: float
    end_s: float
    heard: str = ""
    reading: str = ""
    status: Status = "accepted"
    confidence: float = 1.0
    alternatives: tuple[str, ...] = ()
    phrases: tuple[SkipValidation[Phrase], ...] = ()
    """What the reading says; checked already, when they were made."""
    stranger: str = ""
    """The phones heard in place of the name, see `Verdict`, as long as nobody has read it."""
    by: By = "listener"
    who: str = ""
    voided: bool = False
    target: str | None = None
    """The entry that a spoken edit aims at, fixed when the edit was committed."""
    not_known: tuple[str, ...] = ()
    """The reps that it opened, by their ids, of which a person says that nobody knows how they
    ended."""
    dog: str | None = None
    """The dog this entry was moved to by a person, if it was."""
