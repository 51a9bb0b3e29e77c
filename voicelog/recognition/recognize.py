"""Hear a stream of sound: segments, what the listeners take them to say, what stands.

A pause may fall anywhere, also inside a phrase ("level ... three"). Two neighbouring
segments that are not sure by themselves are therefore heard once more as one, and taken
as one where that is surer than both. And talk to the dog may run into a note with hardly a
pause: a segment that is no note is heard once more in its pieces.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Reading, Utterance, Verdict
from voicelog.recognition.candidates import CandidateSet, generate_candidates
from voicelog.recognition.ctc import best_path
from voicelog.recognition.decision import DECISION_VERSION, Decision, decide, decide_first_pass
from voicelog.recognition.features import candidate_probabilities
from voicelog.recognition.first_pass import RATE, ConfidenceRecognizer, FirstPassRecognizer, Sound
from voicelog.recognition.fusion import fusion_model_for
from voicelog.recognition.pause_split import split_at_pauses
from voicelog.recognition.phone_posteriors import STEP, Posteriors
from voicelog.recognition.second_pass import ALONE, SecondPassRecognizer, SecondPassStoppedError
from voicelog.recognition.segmenter import FRAME, Segment, Segmenter, frames
from voicelog.recognition.vosk_models import ModelError

__all__ = ["Recognizers", "judged", "recognize"]

LIKELY_PROBABILITY = 0.5
"""A doubtful whole at least this likely to be right is not cut up."""
MIN_SPLIT_SCORE = -3.0
"""Nats for each phone that the notes in a piece may be behind its likeliest phones, for it to be
heard by itself: of the tuning notes in quiet 97% were less."""
MAX_JOIN_PAUSE_S = 1.5
"""Longest pause (s) inside a phrase; common practice, no source."""
MAX_JOINED_S = 8.0
"""Longest note (s) that is put together so."""


@dataclass(slots=True)
class Recognizers:
    """Who listens: a quick listener, a careful one, or both.

    `note` tells the user that the careful listener cannot be used, or has stopped; else None.
    """

    quick: FirstPassRecognizer | None
    careful: SecondPassRecognizer | None = None
    note: str | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The listeners' names, the quick one's first."""
        return tuple(one.name for one in (self.quick, self.careful) if one is not None)


def recognize(
    blocks: Iterable[Sound],
    ears: Recognizers,
    grammar: Grammar,
    narrowing: RecognitionContext,
    recording: str,
    *,
    talking: Callable[[bool], None] = lambda now: None,
    at_leisure: Callable[[], bool] = lambda: False,
) -> Iterator[tuple[Utterance, tuple[Reading, ...], Verdict]]:
    """Everything said in `blocks` (float32 mono, 16 kHz), in order, each with its verdict.

    `recording` is the id that the utterances belong to; their own ids follow from it and
    from where they start, so hearing the same sound again gives the same events. A sure one
    comes as soon as its segment has ended, any other when nothing that follows can join it.

    Live, `talking` is told when a segment begins and when it ends. While `at_leisure`, what
    was said is heard as soon as it pauses, before the pause is long enough to end the segment:
    the same events, sooner, at the cost of hearing some of it twice.
    """
    ear, cutter = _SegmentRecognizer(ears, grammar, narrowing), Segmenter()
    waiting: _RecognizedSegment | None = None
    speaking = False

    def settled(segment: Segment) -> Iterator[_RecognizedSegment]:
        nonlocal waiting
        for take in ear.takes(segment):
            joined = ear.joined(waiting, take) if waiting is not None else None
            if waiting is not None and joined is None:
                yield waiting
            waiting = joined or take
            if waiting.judged.status == "accepted":
                yield waiting
                waiting = None

    for frame in frames(blocks):
        segment = cutter.take(frame)
        if cutter.is_open != speaking:
            speaking = cutter.is_open
            talking(speaking)
        if segment is not None:
            for take in settled(segment):
                yield ear.events(take, recording)
        elif at_leisure() and (coming := cutter.ahead()) is not None:
            ear.recognize_predicted(coming)
        if waiting is not None and not cutter.is_open:
            end = waiting.segment.start + len(waiting.segment.sound)
            if cutter.earliest_start - end > MAX_JOIN_PAUSE_S * RATE:
                yield ear.events(waiting, recording)
                waiting = None
    if (segment := cutter.finish()) is not None:
        for take in settled(segment):
            yield ear.events(take, recording)
    if waiting is not None:
        yield ear.events(waiting, recording)


def judged(
    segment: Segment, ears: Recognizers, grammar: Grammar, narrowing: RecognitionContext
) -> Decision:
    """What stands of one segment by itself: it is neither joined with another nor cut up."""
    return _SegmentRecognizer(ears, grammar, narrowing).take(segment).judged


@dataclass(frozen=True, slots=True)
class _RecognizedSegment:
    """A segment, what each listener heard in it and how surely, and what stands.

    posteriors: the phones that a careful listener told, None where there is none.
    """

    segment: Segment
    heard: tuple[tuple[str, str, float], ...]
    judged: Decision
    posteriors: Posteriors | None = None


class _SegmentRecognizer:
    def __init__(self, ears: Recognizers, grammar: Grammar, narrowing: RecognitionContext) -> None:
        self.ears, self.grammar, self.narrowing = ears, grammar, narrowing
        self._ahead: tuple[Segment, tuple[_RecognizedSegment, ...]] | None = None

    def recognize_predicted(self, segment: Segment) -> None:
        """Hear a segment that will be, if no more is said."""
        self._ahead = segment, self._takes(segment)

    def takes(self, segment: Segment) -> tuple[_RecognizedSegment, ...]:
        """A segment as a whole, or in its pieces where only those hold a note."""
        ahead, self._ahead = self._ahead, None
        if ahead is not None and _same(ahead[0], segment):
            return ahead[1]
        return self._takes(segment)

    def _takes(self, segment: Segment) -> tuple[_RecognizedSegment, ...]:
        """A piece may be cut out of other talk, so more is asked of it."""
        whole = self.take(segment)
        if whole.judged.status == "accepted" or whole.judged.confidence >= LIKELY_PROBABILITY:
            return (whole,)
        cut = split_at_pauses(segment)
        if not self._may_hold(whole, cut):
            return (whole,)
        parts = tuple(self.take(piece, strict=True) for piece in cut)
        held = any(part.judged.status != "rejected" for part in parts)
        return parts if held else (whole,)

    def _may_hold(self, whole: _RecognizedSegment, cut: Sequence[Segment]) -> bool:
        """Whether one of the pieces it is cut into may be a note. Where phones were told, a note
        has to lie in those of a piece."""
        posteriors = whole.posteriors
        return posteriors is None or any(
            self._lies_in(posteriors[_step(whole, piece.start) : _step(whole, _end(piece))])
            for piece in cut
        )

    def _lies_in(self, posteriors: Posteriors) -> bool:
        way = best_path(posteriors, self.grammar)
        return way is not None and way.words != "" and way.short >= MIN_SPLIT_SCORE

    def take(self, segment: Segment, *, strict: bool = False) -> _RecognizedSegment:
        quick, careful = self.ears.quick, self.ears.careful
        if careful is None and isinstance(quick, ConfidenceRecognizer):
            heard = quick.hear(segment.sound, segment.noise)
            judged = decide_first_pass(
                heard, quick.bars, self.grammar, self.narrowing, strict=strict
            )
            return _RecognizedSegment(
                segment, ((quick.name, heard.words, heard.confidence),), judged
            )
        try:
            of = generate_candidates(segment, self.grammar, self.narrowing, quick, careful)
        except (SecondPassStoppedError, ModelError) as problem:
            if quick is None:
                raise
            self.ears.careful, self.ears.note = None, f"{problem} {ALONE}"
            return self.take(segment, strict=strict)
        company = fusion_model_for(quick, careful)
        likely = candidate_probabilities(of, company.weights)
        readings = [(one.words, chance) for one, chance in zip(of.candidates, likely, strict=True)]
        judged = decide(
            readings,
            self.grammar,
            self.narrowing,
            company.bars(of.above_noise_db),
            strict=strict,
            familiar=of.familiar,
            missing_name=of.missing_name,
        )
        if not readings:
            judged = Decision("rejected", of.heard.words, 0.0)
        return _RecognizedSegment(segment, tuple(self._heard(of, likely)), judged, of.posteriors)

    def _heard(
        self, of: CandidateSet, likely: tuple[float, ...]
    ) -> Iterator[tuple[str, str, float]]:
        """Each listener's name, what it heard, and how likely that is right."""
        own = list(zip(of.candidates, likely, strict=True))
        if self.ears.quick is not None:
            chance = max((chance for one, chance in own if one.quick), default=0.0)
            yield self.ears.quick.name, of.heard.words, chance
        if self.ears.careful is not None:
            first = ((one.words, p) for one, p in own if one.in_phones and one.in_phones.first)
            yield self.ears.careful.name, *next(first, ("", 0.0))

    def joined(
        self, first: _RecognizedSegment, second: _RecognizedSegment
    ) -> _RecognizedSegment | None:
        """The two as one, where that is accepted and neither was."""
        a, b = first.segment, second.segment
        pause = (b.start - (a.start + len(a.sound))) / RATE
        whole = b.start + len(b.sound) - a.start
        if "accepted" in (first.judged.status, second.judged.status):
            return None
        if pause > MAX_JOIN_PAUSE_S or whole > MAX_JOINED_S * RATE:
            return None
        gap = np.zeros(max(0, b.start - a.start - len(a.sound)), np.float32)
        still = np.zeros(len(gap) // FRAME, np.bool_)
        both = Segment(
            a.start,
            b.end,
            np.concatenate((a.sound, gap, b.sound)),
            a.noise,
            np.concatenate((a.speech, still, b.speech)),
        )
        take = self.take(both)
        return take if take.judged.status == "accepted" else None

    def events(
        self, take: _RecognizedSegment, recording: str
    ) -> tuple[Utterance, tuple[Reading, ...], Verdict]:
        segment, judged = take.segment, take.judged
        utterance = Utterance(
            id=f"u-{recording[:12]}-{segment.start:09d}",
            recording=recording,
            start_s=round(segment.start / RATE, 3),
            end_s=round(segment.end / RATE, 3),
        )
        readings = tuple(
            Reading(
                id=_named("r", utterance.id, name, self.grammar.name, words),
                utterance=utterance.id,
                words=words,
                by="listener",
                who=name,
                confidence=round(chance, 4),
                grammar=self.grammar.name,
            )
            for name, words, chance in take.heard
        )
        verdict = Verdict(
            id=_named("v", utterance.id, DECISION_VERSION, *(reading.id for reading in readings)),
            utterance=utterance.id,
            status=judged.status,
            words=judged.words,
            confidence=round(judged.confidence, 4),
            alternatives=judged.alternatives,
            judge=DECISION_VERSION,
        )
        return utterance, readings, verdict


def _end(segment: Segment) -> int:
    return segment.start + len(segment.sound)


def _step(whole: _RecognizedSegment, sample: int) -> int:
    """Where in the posteriors of a take a sample of the stream lies."""
    return (sample - whole.segment.start) // STEP


def _same(one: Segment, other: Segment) -> bool:
    """Whether two segments of a stream are the same stretch of it."""
    return (one.start, len(one.sound)) == (other.start, len(other.sound))


def _named(kind: str, *parts: str) -> str:
    """An id that follows from content."""
    digest = hashlib.sha256("\0".join(parts).encode()).hexdigest()
    return f"{kind}-{digest[:16]}"
