"""What was done: sessions and their reps, as assembled from entries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import Field

from voicelog.model.base import FrozenModel
from voicelog.model.grown import Grown
from voicelog.model.phrases import CueBy, Mode, Outcome, SignClass, Slot
from voicelog.model.roster import Dog
from voicelog.model.timing import RepIntervals, RepTimes

__all__ = ["Condition", "Doubt", "LevelMark", "Mark", "MarkKind", "Rep", "Session", "SignMark"]

Doubt = Literal[
    "words", "missed", "edit", "no outcome", "late", "outcomes", "level", "button", "two reps"
]
"""Why a rep is to be checked. words: a word of it is; missed: one may have been missed; edit: a
strike or a correction that is to be checked may be about it; no outcome: it was not said how it
ended; late: something was said of it longer than `STALE_S` after the word before; outcomes: two
were said; level: beyond the transmitter; button: a press, and "no button"; two reps: what was
said may be of this rep or of another."""


class LevelMark(FrozenModel):
    """A level in a rep's trace."""

    at_s: float
    level: int


class SignMark(FrozenModel):
    """What the body showed, when, and at which level (null when no level was in force)."""

    at_s: float
    sign: str
    class_: SignClass = Field(alias="class")
    level: int | None = None


class Rep(FrozenModel):
    """One repetition. Not said is null; doubtful and void reps count in no estimate.

    `times`, `intervals`, `doubts` and `failed_first` are of format 2 of the contract; `intervals`
    are there once it is known how far the narrator may err (`voicelog.safety.contingency`). A rep
    is doubtful where it has any of `doubts`. `failed_first` is what the dog did before `outcome`:
    it ignored the call, left or broke, and then came, or was helped.
    """

    number: int
    id: str
    session: str
    dog: str
    drill: str | None = None
    start_s: float
    end_s: float
    cue: str | None = None
    cue_by: CueBy | None = None
    cues: int = 0
    mode: Mode = "unknown"
    levels: tuple[LevelMark, ...] = ()
    peak_level: int | None = None
    end_level: int | None = None
    outcome: Outcome | None = None
    signs: tuple[str, ...] = ()
    sign_marks: tuple[SignMark, ...] = ()
    stress: bool = False
    turned_s: float | None = None
    latency_s: float | None = None
    stimulus_s: float | None = None
    rewards: tuple[str, ...] = ()
    distraction: str | None = None
    distance: float | None = None
    distance_unit: str | None = None
    entries: tuple[str, ...] = ()
    doubtful: bool = False
    void: bool = False
    times: RepTimes = RepTimes()
    intervals: RepIntervals | None = None
    doubts: tuple[Doubt, ...] = ()
    failed_first: Outcome | None = None


class Condition(FrozenModel):
    """Something that holds from a moment on: drill, place, weather, equipment."""

    at_s: float
    name: str
    value: str
    unit: str | None = None


MarkKind = Literal[
    "cue",
    "press",
    "dial",
    "off",
    "turned",
    "outcome",
    "sign",
    "reward",
    "equipment",
    "condition",
]


class Mark(FrozenModel):
    """One thing that happened in a session, in order; what the safety rules read.

    `name` and `value` by kind: press: its mode and its level (None for vibrate and tone);
    dial: "dial" and the level set; sign: the sign and its class; cue: the cue's words and
    who gave it; outcome: the outcome and the word said for it; equipment and condition: the
    slot's name and value. `rep` is the number of the rep it fell in.
    """

    at_s: float
    entry: str
    kind: MarkKind
    name: str
    value: Slot | None = None
    rep: int | None = None


class Session(FrozenModel):
    """One dog's work from "start session" to its end, as assembled from entries.

    `start_s` and `end_s` are seconds in the recording. `dog` is the profile as it was.
    `placed` names the entries that did something here; `entries` all that fell in it; `others`
    those in a breath that calls another dog, with the dogs that may be meant: whose they are, a
    person must say.
    """

    id: str
    recording: str = ""
    dog: Dog
    start_s: float
    end_s: float
    conditions: Grown[Condition] = Grown()
    marks: Grown[Mark] = Grown()
    reps: Grown[Rep] = Grown()
    entries: Grown[str] = Grown()
    placed: Grown[str] = Grown()
    flagged: tuple[str, ...] = ()
    others: Mapping[str, tuple[str, ...]] = {}

    def condition(self, name: str) -> str | None:
        """The last value of the condition of that `name` here, or None when never said."""
        return next((c.value for c in reversed(self.conditions) if c.name == name), None)
