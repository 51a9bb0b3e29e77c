"""What is kept: events, each committed once and never changed."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field, model_validator

from voicelog.model.base import LONGEST_S, FrozenModel, Moment, Seconds, checked_moment

__all__ = ["Action", "By", "Event", "FieldEvent", "Reading", "Status", "Utterance", "Verdict"]

Status = Literal["accepted", "doubtful", "rejected"]
By = Literal["listener", "person"]


class Utterance(FrozenModel):
    """A stretch of sound, or a line typed for one, that may hold a note."""

    event: Literal["utterance"] = "utterance"
    id: str
    recording: str
    start_s: Seconds
    end_s: Seconds


class Reading(FrozenModel):
    """What one listener, or one person, takes an utterance to say."""

    event: Literal["reading"] = "reading"
    id: str
    utterance: str
    words: str
    by: By
    who: str
    """A listener with its versions ("pocketsphinx 5.1.1 en-us"), or a person's name."""
    confidence: float = Field(default=1.0, ge=0, le=1)
    grammar: str = ""
    at: Moment | None = None


class Verdict(FrozenModel):
    """What the judge made of an utterance's readings."""

    event: Literal["verdict"] = "verdict"
    id: str
    utterance: str
    status: Status
    words: str
    confidence: float = Field(ge=0, le=1)
    alternatives: tuple[str, ...] = ()
    judge: str
    replaced_by: tuple[str, ...] = ()
    """Utterances that the same sound was heard as later, in place of this one."""
    stranger: str = Field(default="", max_length=1_000)
    """The phones heard in place of the name, where all was said but that; "" where none was
    missing."""


class Action(FrozenModel):
    """Something done to an utterance or to an earlier event, aimed at its id."""

    event: Literal["action"] = "action"
    id: str
    action: Literal["confirm", "void", "move", "undo", "amend", "flag", "clock"]
    target: str
    cause: str | None = None
    """The utterance that asked for it, when it was spoken."""
    value: str | None = None
    """The dog to move to; the words that a confirmation saw; for "clock", aimed at any utterance
    of the recording, the moment of its first sample in ISO 8601; or the rep's id, where a rep
    that the target opened is meant: a person who amends one without a cause says that nobody
    knows how it ended."""
    by: By = "person"
    who: str = ""
    at: Moment | None = None

    @model_validator(mode="after")
    def _a_clock_is_a_moment(self) -> Action:
        if self.action == "clock" and self.value:
            checked_moment(datetime.fromisoformat(self.value))
        return self


class FieldEvent(FrozenModel):
    """Something that happened around the sound: a tone, a warning, the clock, a device."""

    event: Literal["field"] = "field"
    id: str
    recording: str
    at_s: float = Field(ge=-LONGEST_S, le=LONGEST_S, allow_inf_nan=False)
    what: Literal["tone", "warning", "acknowledgement", "device", "clock"]
    detail: str = ""


Event = Annotated[Utterance | Reading | Verdict | Action | FieldEvent, Field(discriminator="event")]
