"""The frozen types that the rooms hand to each other, and the output contract.

Data flows one way: events (what is kept) fold into entries (what was said), entries
assemble into sessions and reps (what was done), and those are checked into findings.
Nothing here knows how any of that happens, and this module imports nothing of ours.

All times inside a recording are seconds (s) from its first sample. Wall-clock times are
`datetime` and say whether their zone is known by being aware or naive.

The contract is `Document`: what `voicelog read --format json` prints. Its field names and
meanings change only together with `CONTRACT_VERSION`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

__all__ = [
    "CONTRACT_VERSION",
    "LONGEST_S",
    "PLAUSIBLE_YEARS",
    "Action",
    "By",
    "Condition",
    "CueBy",
    "Document",
    "Dog",
    "Entry",
    "EntryOutput",
    "Event",
    "FieldEvent",
    "Finding",
    "FrozenModel",
    "HeatTrait",
    "LevelMark",
    "Mark",
    "MarkKind",
    "Mode",
    "Moment",
    "Outcome",
    "Phrase",
    "PhraseKind",
    "Reading",
    "RecordingOutput",
    "Rep",
    "Roster",
    "Seconds",
    "Session",
    "SessionOutput",
    "Severity",
    "SignClass",
    "SignMark",
    "Slot",
    "SoundLevel",
    "Stage",
    "Status",
    "Transmitter",
    "UsageError",
    "Utterance",
    "Verdict",
    "VoicelogError",
]

CONTRACT_VERSION = 1
"""Version of the output contract; every machine-readable output carries it."""

PhraseKind = Literal[
    "session",
    "equipment",
    "condition",
    "cue",
    "stimulus",
    "turned",
    "outcome",
    "sign",
    "reward",
    "edit",
    "ask",
]
"""What a spoken phrase is about. Each kind is one file of grammars/<language>/."""

Mode = Literal["none", "vibrate", "tone", "momentary", "continuous", "unknown"]
Outcome = Literal["complied", "slow", "partial", "ignored", "left", "broke", "helped", "unknown"]
SignClass = Literal["noticed", "strong", "weak", "none"]
Status = Literal["accepted", "doubtful", "rejected"]
By = Literal["listener", "person"]
Severity = Literal["remark", "caution", "stop"]
Stage = Literal["bird", "gun", "off line"]
HeatTrait = Literal["heavy", "dark", "short-faced"]
"""Why a dog bears heat worse than others."""
CueBy = Literal["voice", "whistle", "helper"]
Slot = str | int
"""A value that a phrase carries: a word of the grammar, or a spoken number."""

LONGEST_S = 1e7
"""No recording is longer, in seconds (116 days); a time beyond it is a slip or made to do harm."""
PLAUSIBLE_YEARS = range(1900, 2200)
"""Years in which something can have been recorded: far from both ends of the calendar, so that
what is counted from a moment stays within it."""


def _of_our_time(moment: datetime) -> datetime:
    if moment.year not in PLAUSIBLE_YEARS:
        raise ValueError(f"a moment is of the years {PLAUSIBLE_YEARS[0]} to {PLAUSIBLE_YEARS[-1]}")
    return moment


Seconds = Annotated[float, Field(ge=0, le=LONGEST_S, allow_inf_nan=False)]
"""A time in a recording, from its first sample (s)."""
Moment = Annotated[datetime, AfterValidator(_of_our_time)]
"""A time of the wall clock that can be meant."""


class VoicelogError(Exception):
    """Something the user can mend, said in one sentence: found, wanted, what to try."""

    exit_code = 1


class UsageError(VoicelogError):
    """The command was called in a way that cannot work."""

    exit_code = 2


class FrozenModel(BaseModel):
    """Base of every type here: frozen, and strict about unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


# --- who and with what -----------------------------------------------------------------


class Transmitter(FrozenModel):
    """What the dog's hand unit can do; from the maker's instructions.

    `top` is None where nobody said it: then no level is refused for being too high up to
    `highest`, and steps are the smallest there are (see `voicelog.model.dial`). `step` is what the
    dial moves by at a notch.
    """

    top: int | None = Field(default=None, ge=1, le=999)
    lowest: int = Field(default=1, ge=0)
    step: int | None = Field(default=None, ge=1)
    modes: tuple[Literal["vibrate", "tone", "momentary", "continuous"], ...] = (
        "vibrate",
        "tone",
        "momentary",
        "continuous",
    )
    cutoff_s: float | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _lowest_is_in_range(self) -> Transmitter:
        if self.lowest > self.highest:
            raise ValueError(f"lowest level {self.lowest} is above the top level {self.highest}")
        return self

    @property
    def highest(self) -> int:
        """The top level, or 100 where it is not known: the usual finest dial (common practice,
        no source)."""
        return 100 if self.top is None else self.top


class Dog(FrozenModel):
    """A dog's profile, copied into each of its sessions when the session starts.

    An empty name stands for a dog that was not named.
    """

    name: str
    transmitter: Transmitter = Transmitter()
    collar_number: int | None = Field(default=None, ge=0)
    cues: tuple[str, ...] = ("here",)
    default_mode: Literal["momentary", "continuous"] = "continuous"
    born: date | None = None
    reached: tuple[Stage, ...] = ()
    ceiling: int | None = Field(default=None, ge=0)
    heat_traits: tuple[HeatTrait, ...] = ()
    client: str = ""
    """Whose dog it is, for the record of use; empty when not given."""
    litter: str = ""
    """The name of the litter it comes from; empty when not given."""
    identification: str = ""
    """Its chip number, tattoo or description, for the record of use; empty when not given."""


class Roster(FrozenModel):
    """The dogs and handlers whose names may be spoken."""

    dogs: tuple[Dog, ...] = ()
    handlers: tuple[str, ...] = ()

    def dog(self, name: str) -> Dog | None:
        """The dog of that name, without regard to letter case."""
        wanted = name.casefold()
        return next((dog for dog in self.dogs if dog.name.casefold() == wanted), None)

    @property
    def cues(self) -> tuple[str, ...]:
        """Every cue of every dog, once each, in order of first use."""
        return tuple(dict.fromkeys(cue for dog in self.dogs for cue in dog.cues)) or ("here",)

    @property
    def top_level(self) -> int:
        """The highest level of any transmitter on the roster."""
        return max((dog.transmitter.highest for dog in self.dogs), default=Transmitter().highest)


# --- what is kept: events --------------------------------------------------------------


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
    that the target opened is meant."""
    by: By = "person"
    who: str = ""
    at: Moment | None = None

    @model_validator(mode="after")
    def _a_clock_is_a_moment(self) -> Action:
        if self.action == "clock" and self.value:
            _of_our_time(datetime.fromisoformat(self.value))
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


# --- what was said: entries ------------------------------------------------------------


class Phrase(FrozenModel):
    """One thing said: its kind, the values it carries, and the words themselves."""

    kind: PhraseKind
    slots: Mapping[str, Slot]
    words: str


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
    phrases: tuple[Phrase, ...] = ()
    by: By = "listener"
    who: str = ""
    voided: bool = False
    target: str | None = None
    """The entry that a spoken edit aims at, fixed when the edit was committed."""
    dog: str | None = None
    """The dog this entry was moved to by a person, if it was."""


# --- what was done: sessions and reps --------------------------------------------------


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
    """One repetition. Not said is null; doubtful and void reps count in no estimate."""

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
    conditions: tuple[Condition, ...] = ()
    marks: tuple[Mark, ...] = ()
    reps: tuple[Rep, ...] = ()
    entries: tuple[str, ...] = ()
    placed: tuple[str, ...] = ()
    flagged: tuple[str, ...] = ()
    others: Mapping[str, tuple[str, ...]] = {}

    def condition(self, name: str) -> str | None:
        """The last value of a condition in this session, or None when never said."""
        return next((c.value for c in reversed(self.conditions) if c.name == name), None)


class Finding(FrozenModel):
    """Something a safety rule saw, with its evidence and where the rule comes from."""

    rule: str
    severity: Severity
    session: str
    reps: tuple[int, ...] = ()
    evidence: tuple[str, ...] = ()
    on_doubt: bool = False
    struck: bool = False
    message: str
    advice: str
    basis: str


# --- the contract ----------------------------------------------------------------------


class SoundLevel(FrozenModel):
    """Level of a recording: dBFS re digital full scale (a full-scale sine has RMS -3.01).

    Null where it cannot be measured: digital silence has no level, and sound without
    speech no speech-to-noise ratio.
    """

    peak_dbfs: float | None = None
    rms_dbfs: float | None = None
    clipped_share: float | None = None
    snr_db: float | None = None


class SessionOutput(FrozenModel):
    """A session in the contract."""

    id: str
    dog: str
    start_s: float
    end_s: float
    conditions: tuple[Condition, ...] = ()


class EntryOutput(FrozenModel):
    """An entry in the contract.

    `kind` names the kinds of its phrases in spoken order, joined by "+" ("stimulus+outcome").
    `slots` merges the phrases' values; a name said more than once holds a list.
    """

    id: str
    session: str | None = None
    start_s: float
    end_s: float
    heard: str
    reading: str
    status: Status
    confidence: float
    alternatives: tuple[str, ...] = ()
    kind: str = ""
    slots: Mapping[str, Any] = {}
    by: By = "listener"
    voided: bool = False
    placed: bool = True


class RecordingOutput(FrozenModel):
    """A recording in the contract, with everything derived from it."""

    audio: str
    sha256: str
    started_at: datetime | None = None
    duration_s: float
    listeners: tuple[str, ...] = ()
    grammar: str = ""
    dog: str | None = None
    sound: SoundLevel = SoundLevel()
    sessions: tuple[SessionOutput, ...] = ()
    entries: tuple[EntryOutput, ...] = ()
    reps: tuple[Rep, ...] = ()
    findings: tuple[Finding, ...] = ()


class Document(FrozenModel):
    """The whole output of `voicelog read --format json`."""

    format: Literal[1] = 1
    recordings: tuple[RecordingOutput, ...] = ()
