"""What the dialogue may ask for; it does none of it itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from voicelog.live.incidents import Incident
from voicelog.model import Action

__all__ = [
    "CancelSpeech",
    "CommitAction",
    "LogFieldEvent",
    "Output",
    "PlayTone",
    "SpeakWords",
    "ToneKind",
]

ToneKind = Literal["accepted", "doubtful", "not understood", "listening", "waiting", "warning"]
"""`listening` each minute; `waiting` while a stop has not been acknowledged; `warning` in the
place of words where there is no voice."""


@dataclass(frozen=True, slots=True)
class PlayTone:
    """Sound a tone. An urgent one interrupts what is being said."""

    tone: ToneKind
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class SpeakWords:
    """Speak words, MAX_SPOKEN_WORDS at most. Urgent ones interrupt what is being said.

    `rule` names the rule that a warning speaks for, `incident` what it is about.
    """

    words: str
    urgent: bool = False
    rule: str | None = None
    incident: Incident | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class CancelSpeech:
    """Break off, and forget what waits to be said of incidents that no longer stand.

    `ticks`: the ticks for a stop too, since none is left.
    """

    incidents: frozenset[Incident]
    ticks: bool = False

    def covers(self, output: object) -> bool:
        """Whether an output that sounds, or waits to, is to be silent."""
        if isinstance(output, SpeakWords):
            return output.incident in self.incidents
        return self.ticks and isinstance(output, PlayTone) and output.tone == "waiting"


@dataclass(frozen=True, slots=True)
class CommitAction:
    """Commit what her answer settles."""

    action: Action


@dataclass(frozen=True, slots=True)
class LogFieldEvent:
    """Keep that something happened: an acknowledgement, a device, the clock."""

    what: Literal["acknowledgement", "device", "clock"]
    detail: str


Output = PlayTone | SpeakWords | CancelSpeech | CommitAction | LogFieldEvent
