"""Hear a stream of sound: segments, what the listeners take them to say, what stands.

A pause may fall anywhere, also inside a phrase ("level ... three"). Two neighbouring
segments that are not sure by themselves are therefore heard once more as one, and taken
as one where that is surer than both. And talk to the dog may run into a note with hardly a
pause: a segment that is no note is heard once more in its pieces.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.judge import JUDGE, Judgement, judge
from voicelog.hearing.listener import RATE, Heard, Listener, Sound
from voicelog.hearing.pieces import pieces
from voicelog.hearing.segmenter import FRAME, LONGEST, Segment, segments
from voicelog.model import Reading, Utterance, Verdict

__all__ = ["hear"]

LIKELY = 0.5
"""A doubtful whole at least this likely to be right is not cut up."""
JOIN_S = 1.5
"""Longest pause (s) inside a phrase; common practice, no source."""


def hear(
    blocks: Iterable[Sound],
    listeners: Sequence[Listener],
    grammar: Grammar,
    narrowing: Narrowing,
    recording: str,
) -> Iterator[tuple[Utterance, tuple[Reading, ...], Verdict]]:
    """Everything said in `blocks` (float32 mono, 16 kHz), in order, each with its verdict.

    `recording` is the id that the utterances belong to; their own ids follow from it and
    from where they start, so hearing the same sound again gives the same events.
    """
    ear = _Ear(listeners, grammar, narrowing)
    waiting: _Take | None = None
    for segment in segments(blocks):
        for take in ear.takes(segment):
            joined = ear.joined(waiting, take) if waiting is not None else None
            if waiting is not None and joined is None:
                yield ear.events(waiting, recording)
            waiting = joined or take
    if waiting is not None:
        yield ear.events(waiting, recording)


@dataclass(frozen=True, slots=True)
class _Take:
    """A segment, what each listener heard in it, and what stands."""

    segment: Segment
    heard: tuple[Heard, ...]
    judged: Judgement


class _Ear:
    def __init__(
        self, listeners: Sequence[Listener], grammar: Grammar, narrowing: Narrowing
    ) -> None:
        self.listeners, self.grammar, self.narrowing = listeners, grammar, narrowing

    def takes(self, segment: Segment) -> tuple[_Take, ...]:
        """A segment as a whole, or in its pieces where only those hold a note.

        A piece may be cut out of other talk, so more is asked of it.
        """
        whole = self.take(segment)
        if whole.judged.status == "accepted" or whole.judged.confidence >= LIKELY:
            return (whole,)
        parts = tuple(self.take(piece, strict=True) for piece in pieces(segment))
        held = any(part.judged.status != "rejected" for part in parts)
        return parts if held else (whole,)

    def take(self, segment: Segment, *, strict: bool = False) -> _Take:
        heard = tuple(listener.hear(segment.sound) for listener in self.listeners)
        bars = (listener.bars for listener in self.listeners)
        judged = judge(
            tuple(zip(heard, bars, strict=True)), self.grammar, self.narrowing, strict=strict
        )
        return _Take(segment, heard, judged)

    def joined(self, first: _Take, second: _Take) -> _Take | None:
        """The two as one, where that is accepted and neither was."""
        a, b = first.segment, second.segment
        pause = (b.start - (a.start + len(a.sound))) / RATE
        whole = b.start + len(b.sound) - a.start
        if "accepted" in (first.judged.status, second.judged.status):
            return None
        if pause > JOIN_S or whole > LONGEST * FRAME:
            return None
        gap = np.zeros(max(0, b.start - a.start - len(a.sound)), np.float32)
        both = Segment(a.start, b.end, np.concatenate((a.sound, gap, b.sound)), a.noise)
        take = self.take(both)
        return take if take.judged.status == "accepted" else None

    def events(self, take: _Take, recording: str) -> tuple[Utterance, tuple[Reading, ...], Verdict]:
        segment, judged = take.segment, take.judged
        utterance = Utterance(
            id=f"u-{recording[:12]}-{segment.start:09d}",
            recording=recording,
            start_s=round(segment.start / RATE, 3),
            end_s=round(segment.end / RATE, 3),
        )
        readings = tuple(
            Reading(
                id=_named("r", utterance.id, listener.name, self.grammar.name, heard.words),
                utterance=utterance.id,
                words=heard.words,
                by="listener",
                who=listener.name,
                confidence=round(heard.confidence, 4),
                grammar=self.grammar.name,
            )
            for listener, heard in zip(self.listeners, take.heard, strict=True)
        )
        verdict = Verdict(
            id=_named("v", utterance.id, JUDGE, *(reading.id for reading in readings)),
            utterance=utterance.id,
            status=judged.status,
            words=judged.words,
            confidence=round(judged.confidence, 4),
            alternatives=judged.alternatives,
            judge=JUDGE,
        )
        return utterance, readings, verdict


def _named(kind: str, *parts: str) -> str:
    """An id that follows from content."""
    digest = hashlib.sha256("\0".join(parts).encode()).hexdigest()
    return f"{kind}-{digest[:16]}"
