"""The frozen types that the rooms hand to each other, and the output contract.

Data flows one way: events (what is kept) fold into entries (what was said), entries
assemble into sessions and reps (what was done), and those are checked into findings.
Nothing here knows how any of that happens, and this room imports no other.

All times inside a recording are seconds (s) from its first sample. Wall-clock times are
`datetime` and say whether their zone is known by being aware or naive.

The contract is `Document`: what `voicelog read --format json` prints. Its field names and
meanings change only together with the number of its format.
"""

from __future__ import annotations

from voicelog.model.base import LONGEST_S, PLAUSIBLE_YEARS, FrozenModel, Moment, Seconds
from voicelog.model.contract import (
    CONTRACT_FORMATS,
    CONTRACT_VERSION,
    ContractFormat,
    Document,
    EntryOutput,
    RecordingOutput,
    SessionOutput,
    SoundLevel,
)
from voicelog.model.entries import Entry
from voicelog.model.errors import UsageError, VoicelogError
from voicelog.model.events import Action, By, Event, FieldEvent, Reading, Status, Utterance, Verdict
from voicelog.model.findings import Finding, Severity
from voicelog.model.matters import (
    MatterCorrection,
    MatterEvent,
    MatterKind,
    SessionMatter,
)
from voicelog.model.phrases import CueBy, Mode, Outcome, Phrase, PhraseKind, SignClass, Slot
from voicelog.model.roster import CueMeaning, Dog, HeatTrait, Roster, Stage, Transmitter
from voicelog.model.sessions import (
    Condition,
    Doubt,
    LevelMark,
    Mark,
    MarkKind,
    Rep,
    Session,
    SignMark,
)
from voicelog.model.timing import PressTimes, RepIntervals, RepTimes, TimeInterval

__all__ = [
    "CONTRACT_FORMATS",
    "CONTRACT_VERSION",
    "LONGEST_S",
    "PLAUSIBLE_YEARS",
    "Action",
    "By",
    "Condition",
    "ContractFormat",
    "CueBy",
    "CueMeaning",
    "Document",
    "Dog",
    "Doubt",
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
    "MatterCorrection",
    "MatterEvent",
    "MatterKind",
    "Mode",
    "Moment",
    "Outcome",
    "Phrase",
    "PhraseKind",
    "PressTimes",
    "Reading",
    "RecordingOutput",
    "Rep",
    "RepIntervals",
    "RepTimes",
    "Roster",
    "Seconds",
    "Session",
    "SessionMatter",
    "SessionOutput",
    "Severity",
    "SignClass",
    "SignMark",
    "Slot",
    "SoundLevel",
    "Stage",
    "Status",
    "TimeInterval",
    "Transmitter",
    "UsageError",
    "Utterance",
    "Verdict",
    "VoicelogError",
]
