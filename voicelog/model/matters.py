"""What went against a dog and stays open until a person closes it.

A session leaves `SessionMatter`s; what is done about them are `MatterEvent`s, which the log keeps
beside the events of recordings. What is open now is made of both in
`voicelog.analysis.open_matters`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from voicelog.model.base import FrozenModel, Moment
from voicelog.model.roster import Transmitter

__all__ = [
    "COVERED_BY_CLOSING",
    "LAST_TURN",
    "MATTER_KINDS",
    "NEEDS_PROFESSIONAL",
    "MatterCorrection",
    "MatterDeed",
    "MatterEvent",
    "MatterKind",
    "SessionMatter",
]

MatterKind = Literal["aggression", "skin", "stop", "ceiling", "stage", "strong sign"]
"""A growl, a snap or a bite; red or sore skin; any other stop; a level above the ceiling; birds or
gunfire before their stage; a strong sign of stress."""

MATTER_KINDS: tuple[MatterKind, ...] = (
    "aggression",
    "skin",
    "stop",
    "ceiling",
    "stage",
    "strong sign",
)
"""Every kind, the gravest first."""

NEEDS_PROFESSIONAL: frozenset[MatterKind] = frozenset({"aggression", "skin"})
"""Kinds that are closed only with the name of the professional who was consulted."""

COVERED_BY_CLOSING: Mapping[MatterKind, frozenset[MatterKind]] = {
    "aggression": frozenset({"aggression", "stop", "strong sign"}),
    "stop": frozenset({"stop", "strong sign"}),
    **{kind: frozenset({kind}) for kind in ("skin", "ceiling", "stage", "strong sign")},
}
"""What of the same entries is closed with a matter of a kind: the sign that a stop rests on is
closed with the stop."""

LAST_TURN = 1_000_000_000
"""The highest count of events; from there on the latest holds."""

MatterDeed = Literal["close", "reopen", "keep"]
"""Close it; open it again; keep it although its session was deleted."""


class MatterCorrection(FrozenModel):
    """Who took back what a matter rests on, and when, as far as that is known.

    `how`: struck or changed by voice, or heard otherwise when the sound was heard again (then it
    still stands: only a person at the keyboard closes anything); struck on the page, or read anew
    by a person so that nothing is left of it.
    """

    how: Literal["by voice", "heard again", "struck", "read anew"]
    who: str = ""
    at: datetime | None = None


class SessionMatter(FrozenModel):
    """One kind of matter as one session left it.

    `rules` found it; `names` are the signs, or the state of the skin; `entries` are the evidence,
    by which a closing knows it; `reps` are numbers, `rep_ids` the same by their ids. `start_s` to
    `end_s` is what to play of the recording (s), from the start of the rep to the word that
    decided. `levels` are those of the strong signs, on `transmitter`. `on_doubt`: it rests on
    doubtful entries alone.
    """

    kind: MatterKind
    session: str
    recording: str
    dog: str
    """The dog's name; empty in what is kept of a deleted session."""
    began: datetime | None
    rules: tuple[str, ...]
    names: tuple[str, ...] = ()
    stop: bool = False
    reps: tuple[int, ...] = ()
    rep_ids: tuple[str, ...] = ()
    struck_reps: tuple[int, ...] = ()
    """Reps whose part of it was struck while others' part still stands."""
    entries: tuple[str, ...]
    start_s: float
    end_s: float
    levels: tuple[int, ...] = ()
    transmitter: Transmitter = Transmitter()
    on_doubt: bool = False
    correction: MatterCorrection | None = None
    acknowledged: bool = False
    """She said "roger" to it; that closes nothing."""

    @property
    def stands(self) -> bool:
        """Whether it still follows from what was said, whoever closed it."""
        return self.correction is None or self.correction.how in ("by voice", "heard again")


_Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=200)]


class MatterEvent(FrozenModel):
    """Something that a person did about a matter, at the keyboard and never by voice.

    It is known by its kind and the entries that it rests on, so that it means the same in every
    log that holds them. Of several about one matter that with the highest `turn` holds, then the
    latest: `turn` counts them, so that a clock that was set back changes nothing.
    """

    id: str = Field(min_length=1, max_length=80)
    do: MatterDeed
    kind: MatterKind
    entries: tuple[str, ...] = Field(min_length=1, max_length=10_000)
    rules: tuple[str, ...] = Field(default=(), max_length=1000)
    """With `names`, what the person saw in those entries."""
    names: tuple[str, ...] = Field(default=(), max_length=1000)
    who: _Line = ""
    reason: Annotated[str, StringConstraints(strip_whitespace=True, max_length=1000)] = ""
    consulted: _Line = ""
    """The veterinarian or licensed behaviour professional who was asked."""
    at: Moment | None = None
    turn: int = Field(default=0, ge=0, le=LAST_TURN)
    dog: str = ""
    """The hash of the dog's name, where a matter is kept: a deleted session leaves no name."""
    matter: SessionMatter | None = None
    """What is kept."""

    @model_validator(mode="after")
    def _is_whole(self) -> MatterEvent:
        if self.do == "keep":
            if self.matter is None or not self.dog:
                raise ValueError("what is kept needs the matter and the dog")
        elif not (self.who and self.reason):
            raise ValueError("who does it, and why, must be said")
        elif self.do == "close" and self.kind in NEEDS_PROFESSIONAL and not self.consulted:
            raise ValueError("the professional who was consulted must be named")
        return self
