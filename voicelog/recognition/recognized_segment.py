"""What was recognized in a segment, as it is passed from rule to rule until it stands."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from voicelog.recognition.candidates import HeardPhones
from voicelog.recognition.decision import MAX_ALTERNATIVES, Decision
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

__all__ = ["RecognizedSegment", "doubted", "segment_end", "speech_pause"]


@dataclass(frozen=True, slots=True)
class RecognizedSegment:
    """A segment, what each listener heard in it and how surely, and what stands.

    heard_phones: what a careful recognizer heard, None where there is none.
    """

    segment: Segment
    heard: tuple[tuple[str, str, float], ...]
    decision: Decision
    heard_phones: HeardPhones | None = None


def doubted(heard: RecognizedSegment, other: str | None = None) -> RecognizedSegment:
    """The same, to check; `other` is what else it may have been, the likeliest."""
    told = heard.decision
    ranked = (other, *told.alternatives) if other else told.alternatives
    others = tuple(dict.fromkeys(words for words in ranked if words != told.words))
    decision = replace(told, status="doubtful", alternatives=others[:MAX_ALTERNATIVES])
    return replace(heard, decision=decision)


def segment_end(segment: Segment) -> int:
    """The sample of the stream behind the last that is kept of a segment."""
    return segment.start + len(segment.sound)


def speech_pause(first: Segment, second: Segment) -> int:
    """Samples from the end of the first's speech to the beginning of the second's."""
    return second.start + int(np.argmax(second.speech)) * FRAME - first.end
