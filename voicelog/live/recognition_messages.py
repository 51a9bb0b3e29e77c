"""What the recognition process sends back to the session: one frozen type for each message.

They cross a pipe between two processes, so they hold plain values only.
"""

from __future__ import annotations

from dataclasses import dataclass

from voicelog.app.intake import RecognizedUtterance

__all__ = [
    "AllRecognized",
    "CarefulStopped",
    "RecognitionDied",
    "RecognitionFailed",
    "RecognitionMessage",
    "RecognitionProgress",
    "RecognizersReady",
    "SpeechChanged",
    "UtteranceRecognized",
    "UtteranceUndecided",
]


@dataclass(frozen=True, slots=True)
class RecognizersReady:
    """The recognizers are loaded; `names` says which, with their versions, and `heard` those that
    heard a test through."""

    names: tuple[str, ...]
    heard: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UtteranceRecognized:
    """An utterance with its readings and its verdict, in the order in which it was spoken."""

    utterance: RecognizedUtterance


@dataclass(frozen=True, slots=True)
class UtteranceUndecided:
    """An utterance that may still be joined with what follows, sure by itself or to check: it comes
    again, as `UtteranceRecognized`, or as a part of another."""

    utterance: RecognizedUtterance


@dataclass(frozen=True, slots=True)
class SpeechChanged:
    """Somebody began to speak (`speaking`), or stopped."""

    speaking: bool


@dataclass(frozen=True, slots=True)
class RecognitionProgress:
    """So much of the sound was taken in: seconds (s) from its first sample."""

    through_s: float


@dataclass(frozen=True, slots=True)
class CarefulStopped:
    """The careful recognizer does not run any more; `reason` is a sentence for the user."""

    reason: str


@dataclass(frozen=True, slots=True)
class AllRecognized:
    """No more sound was to come, and all that there was is recognized: the last message."""


@dataclass(frozen=True, slots=True)
class RecognitionDied:
    """The process is gone before it was done: the last message of it."""


@dataclass(frozen=True, slots=True)
class RecognitionFailed:
    """The recognizers could not be made, or gave up; `reason` is the error's sentence."""

    reason: str


RecognitionMessage = (
    RecognizersReady
    | UtteranceRecognized
    | UtteranceUndecided
    | SpeechChanged
    | RecognitionProgress
    | CarefulStopped
    | AllRecognized
    | RecognitionDied
    | RecognitionFailed
)
