"""What the dialogue may ask for; it does none of it itself."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Literal

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

ToneKind = Literal[
    "accepted", "doubtful", "not understood", "listening", "waiting", "warning", "stop"
]
"""`listening` each minute; `waiting` while a stop has not been acknowledged; `stop` before the
words of one; `warning` in the place of other words where there is no voice."""


@dataclass(frozen=True, slots=True)
class PlayTone:
    """Sound a tone, after what sounds. `key`: what it is about."""

    tone: ToneKind
    key: Hashable = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class SpeakWords:
    """Speak words, after what sounds; a sentence has MAX_SPOKEN_WORDS at most.

    `rule` names the rule that a warning speaks for, `tone` sounds before the words, `key` is what
    they are about.
    """

    words: str
    rule: str | None = None
    tone: ToneKind | None = None
    key: Hashable = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class CancelSpeech:
    """Break off, and forget what waits at the device, of what is about `key`."""

    key: Hashable

    def covers(self, output: object) -> bool:
        """Whether this is over too: an `output` that was to sound."""
        return isinstance(output, SpeakWords | PlayTone) and output.key == self.key


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
