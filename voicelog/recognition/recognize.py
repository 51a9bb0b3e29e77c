"""Hear a stream of sound: segments, what the listeners take them to say, what stands.

A segment is put before the careful recognizer first. Where that is sure of what it says, or that
it is no note, that stands; the quick one, which costs more time, is asked about the others alone.

A pause may fall anywhere, also inside a phrase ("level ... three"). Two neighbouring
segments that are not sure by themselves are therefore heard once more as one, and taken
as one where that is surer than both. A sure one whose last phrase could go on ("level twenty ...
three") is not told at once: what begins soon after it is heard together with it, and may make
another note of it. And talk to the dog may run into a note with hardly a pause: a segment that is
no note is heard once more in its pieces. Near talk more is asked of a note (near_talk.py). Worth a
look, and no more, is a note over which hardly any speech stands out of the noise, unless it is all
but certain: words that are drowned leave no trace, and what is left of the note makes another one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Reading, Utterance, Verdict
from voicelog.model.phrases import phrase_meaning
from voicelog.recognition.candidates import CandidateSet, HeardPhones, generate_candidates
from voicelog.recognition.careful_recognizer import ALONE, CarefulRecognizer, CarefulStoppedError
from voicelog.recognition.ctc import best_path
from voicelog.recognition.decision import (
    Decision,
    decide,
    decide_quick,
)
from voicelog.recognition.faint_voice import segment_gain
from voicelog.recognition.features import candidate_probabilities
from voicelog.recognition.name_verification import session_name_spans
from voicelog.recognition.near_talk import HOLD_S, NearTalk
from voicelog.recognition.noise_reduction import speech_band_above_noise_db
from voicelog.recognition.pause_split import split_at_pauses
from voicelog.recognition.phone_posteriors import STEP, Posteriors
from voicelog.recognition.quick_recognizer import ConfidenceRecognizer, QuickRecognizer
from voicelog.recognition.recognized_segment import (
    RecognizedSegment,
    doubted,
    segment_end,
    speech_pause,
)
from voicelog.recognition.segmenter import Segment, Segmenter, frames
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.voice_activity import FRAME
from voicelog.recognition.vosk_models import ModelError

__all__ = ["Recognizers", "recognize", "recognize_segment"]

_Events = tuple[Utterance, tuple[Reading, ...], Verdict]

LIKELY_PROBABILITY = 0.5
"""A doubtful whole at least this likely to be right is not cut up."""
MIN_SPLIT_SCORE = -3.0
"""Nats for each phone that the notes in a piece may be behind its likeliest phones, for it to be
heard by itself: of the tuning notes in quiet 97% were less."""
MAX_JOIN_PAUSE_S = 1.5
"""Longest pause (s) inside a phrase; common practice, no source."""
MAX_CONTINUATION_S = 4.0
"""Longest sound (s, with what is kept around it) that is waited for behind a sure note."""
MAX_JOINED_S = 8.0
"""Longest note (s) that is put together so."""
MIN_SPEECH_BAND_DB, MIN_WORD_BAND_DB = 10.0, 8.0
"""Decibels that speech must stand over the noise, in the speech band, for the usual thresholds to
hold; the second is of a single word. Of people's tuning orders in kitchens (version 16, phones told
by a layer that had not heard them), 4 of 101 that would be sure below it were wrong, and 1 of 458
above it."""
ACCEPT_DROWNED = 0.998
"""From which probability a note of several words, in which phones were heard, is accepted below it;
one word never is. Of those orders 1 of 64 was wrong above it."""
SETTLED, UNLIKELY = 0.999, 0.03
"""By the phones alone a note is accepted from the one probability on, and a segment whose likeliest
reading has less than the other is no note; the quick recognizer is asked about all between. Of
5,418 tuning segments that both together accepted (before more was asked of short notes) 4,114 lay
above the one, and one of these was wrong, by both too; 426 lay below the other, of which both
accepted none and offered two."""


@dataclass(slots=True)
class Recognizers:
    """Who hears: a quick recognizer, a careful recognizer, or both.

    note: tells the user that the careful recognizer cannot be used, or has stopped; else None.
    """

    quick: QuickRecognizer | None
    careful: CarefulRecognizer | None = None
    note: str | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Their names, the quick recognizer's first."""
        return tuple(one.name for one in (self.quick, self.careful) if one is not None)


def recognize(
    blocks: Iterable[Samples],
    recognizers: Recognizers,
    grammar: Grammar,
    recognition_context: RecognitionContext,
    recording: str,
    *,
    talking: Callable[[bool], None] = lambda now: None,
    at_leisure: Callable[[], bool] = lambda: False,
    undecided: Callable[[_Events], None] = lambda heard: None,
) -> Iterator[_Events]:
    """Everything said in `blocks` (float32 mono, 16 kHz), in order, each with its verdict.

    `recording` is the id that the utterances belong to; their own ids follow from it and
    from where they start, so hearing the same sound again gives the same events. A sure one
    comes as soon as its segment has ended, unless its last phrase could go on or it comes close
    behind talk: then it waits HOLD_S for more. Any other comes when nothing that follows can join
    it.

    Live, `talking` is told when a segment begins and when it ends. While `at_leisure`, what
    was said is heard as soon as it pauses, before the pause is long enough to end the segment:
    the same events, sooner, at the cost of hearing some of it twice. `undecided` is told at once of
    what is no talk and may still be joined with what follows; it comes again when that is decided.
    """
    ear, cutter = _SegmentRecognizer(recognizers, grammar, recognition_context), Segmenter()
    talk = NearTalk(grammar)
    waiting: RecognizedSegment | None = None
    speaking = False

    def waits(heard: RecognizedSegment) -> bool:
        """Whether what is said soon after a sure one may change what stands of it."""
        behind_talk = " " in heard.decision.words and talk.is_close_behind(heard.segment)
        return behind_talk or ear.may_go_on(heard)

    def decided(heard: RecognizedSegment) -> _Events:
        told = ear.events(talk.judged(heard), recording)
        talk.remember(heard)
        return told

    def settled(segment: Segment) -> Iterator[RecognizedSegment]:
        nonlocal waiting
        for heard in ear.recognize_with_splits(segment):
            joined = ear.join(waiting, heard) if waiting is not None else None
            if waiting is not None and joined is None:
                yield talk.before(waiting, heard)
            waiting = talk.held_to_more(joined or heard)
            if waiting.decision.status == "accepted" and not waits(waiting):
                yield waiting
                waiting = None
            elif waiting.decision.status != "rejected":
                undecided(ear.events(talk.judged(waiting), recording))

    for frame in frames(blocks):
        segment = cutter.take(frame)
        if cutter.is_open != speaking:
            speaking = cutter.is_open
            talking(speaking)
        if segment is not None:
            for heard in settled(segment):
                yield decided(heard)
        elif at_leisure() and (coming := cutter.ahead()) is not None:
            ear.recognize_predicted(coming)
        if waiting is not None and _is_settled(
            waiting, cutter, behind_talk=talk.is_close_behind(waiting.segment)
        ):
            yield decided(waiting)
            waiting = None
    if (segment := cutter.finish()) is not None:
        for heard in settled(segment):
            yield decided(heard)
    if waiting is not None:
        yield decided(waiting)


def _is_settled(waiting: RecognizedSegment, cutter: Segmenter, *, behind_talk: bool) -> bool:
    """Whether nothing that is still said matters to what waits. A sure one that goes on does so
    within HOLD_S and not for long; behind talk, what begins then may be talk, however long."""
    if waiting.decision.status == "accepted":
        if cutter.is_open:
            return not behind_talk and cutter.open_s > MAX_CONTINUATION_S
        return cutter.earliest_speech - waiting.segment.end > HOLD_S * RATE
    pause = cutter.earliest_start - segment_end(waiting.segment)
    return not cutter.is_open and pause > MAX_JOIN_PAUSE_S * RATE


def recognize_segment(
    segment: Segment,
    recognizers: Recognizers,
    grammar: Grammar,
    recognition_context: RecognitionContext,
) -> Decision:
    """What stands of one segment by itself: it is neither joined with another nor cut up."""
    return (
        _SegmentRecognizer(recognizers, grammar, recognition_context)
        .recognize_one(segment)
        .decision
    )


class _SegmentRecognizer:
    def __init__(
        self, recognizers: Recognizers, grammar: Grammar, recognition_context: RecognitionContext
    ) -> None:
        self.recognizers, self.grammar, self.recognition_context = (
            recognizers,
            grammar,
            recognition_context,
        )
        self._ahead: tuple[Segment, tuple[RecognizedSegment, ...]] | None = None

    def recognize_predicted(self, segment: Segment) -> None:
        """Hear a segment that will be, if no more is said."""
        self._ahead = segment, self._recognize_with_splits(segment)

    def recognize_with_splits(self, segment: Segment) -> tuple[RecognizedSegment, ...]:
        """A segment as a whole, or in its pieces where only those hold a note."""
        ahead, self._ahead = self._ahead, None
        if ahead is not None and _same(ahead[0], segment):
            return ahead[1]
        return self._recognize_with_splits(segment)

    def _recognize_with_splits(self, segment: Segment) -> tuple[RecognizedSegment, ...]:
        """A piece may be cut out of other talk, so more is asked of it."""
        whole = self.recognize_one(segment)
        if whole.decision.status == "accepted" or whole.decision.confidence >= LIKELY_PROBABILITY:
            return (whole,)
        cut = split_at_pauses(segment)
        if not self._may_hold(whole, cut):
            return (whole,)
        parts = tuple(self.recognize_one(piece, strict=True) for piece in cut)
        held = any(part.decision.status != "rejected" for part in parts)
        return parts if held else (whole,)

    def _may_hold(self, whole: RecognizedSegment, cut: Sequence[Segment]) -> bool:
        """Whether one of the pieces it is cut into may be a note. Where phones were told, a note
        has to lie in those of a piece."""
        if whole.heard_phones is None:
            return True
        posteriors = whole.heard_phones.posteriors
        return any(
            self._lies_in(posteriors[_step(whole, piece.start) : _step(whole, segment_end(piece))])
            for piece in cut
        )

    def _lies_in(self, posteriors: Posteriors) -> bool:
        path = best_path(posteriors, self.grammar)
        return path is not None and path.words != "" and path.score_per_phone >= MIN_SPLIT_SCORE

    def recognize_one(self, segment: Segment, *, strict: bool = False) -> RecognizedSegment:
        heard = self._recognize_one(segment, strict=strict)
        sure = heard.decision.status == "accepted"
        return doubted(heard) if sure and _is_drowned(heard) else heard

    def _recognize_one(self, segment: Segment, *, strict: bool) -> RecognizedSegment:
        """What stands of a segment: by the phones alone where these settle it, else by both."""
        quick, careful = self.recognizers.quick, self.recognizers.careful
        lifted = _lifted(segment)
        if careful is None and isinstance(quick, ConfidenceRecognizer):
            heard = quick.hear(lifted.sound, lifted.noise)
            decision = decide_quick(
                heard, quick.thresholds, self.grammar, self.recognition_context, strict=strict
            )
            return RecognizedSegment(
                segment, ((quick.name, heard.words, heard.confidence),), decision
            )
        try:
            found = self._judged(segment, lifted, None if careful else quick, strict)
            if quick is not None and careful is not None and not _is_settled_by_phones(found):
                found = self._judged(segment, lifted, quick, strict, found.heard_phones)
        except (CarefulStoppedError, ModelError) as problem:
            if quick is None:
                raise
            self.recognizers.careful, self.recognizers.note = None, f"{problem} {ALONE}"
            return self._recognize_one(segment, strict=strict)
        if segment.early and session_name_spans(self.grammar.interpret(found.decision.words) or ()):
            # With more noise before it, words that sound like a name lie as well as the name.
            return self._recognize_one(segment.without_more(), strict=strict)
        return found

    def _judged(
        self,
        segment: Segment,
        lifted: Segment,
        quick: QuickRecognizer | None,
        strict: bool,
        heard_phones: HeardPhones | None = None,
    ) -> RecognizedSegment:
        """What stands of a segment, as it is and made louder, by the careful recognizer and, if one
        is given, the quick; heard_phones: what the careful one told of it just before."""
        careful = self.recognizers.careful
        of = generate_candidates(
            lifted, self.grammar, self.recognition_context, quick, careful, heard_phones
        )
        fusion = shipped_artifact().fusion.of(quick, careful)
        likely = candidate_probabilities(of, fusion.weights)
        decision = decide(
            [(one.words, chance) for one, chance in zip(of.candidates, likely, strict=True)],
            self.grammar,
            self.recognition_context,
            fusion.thresholds(of.above_noise_db),
            strict=strict,
            verified_name=of.verified_name,
            missing_name=of.missing_name,
            ahead=of.ahead_of_sound_alikes,
            number_odds=of.number_odds,
        )
        if not of.candidates:
            decision = Decision("rejected", of.heard.words, 0.0)
        heard = tuple(self._heard(of, likely, quick))
        return RecognizedSegment(segment, heard, decision, of.heard_phones)

    def _heard(
        self,
        of: CandidateSet,
        likely: tuple[float, ...],
        quick: QuickRecognizer | None,
    ) -> Iterator[tuple[str, str, float]]:
        """The name of each listener that was asked, what it heard, and how likely that is right."""
        own = list(zip(of.candidates, likely, strict=True))
        if quick is not None:
            chance = max((chance for one, chance in own if one.quick), default=0.0)
            yield quick.name, of.heard.words, chance
        if self.recognizers.careful is not None:
            first = (
                (one.words, p) for one, p in own if one.phone_evidence and one.phone_evidence.first
            )
            yield self.recognizers.careful.name, *next(first, ("", 0.0))

    def may_go_on(self, heard: RecognizedSegment) -> bool:
        """Whether the last phrase of a note could have more words."""
        return self.grammar.may_go_on(heard.decision.words)

    def join(self, first: RecognizedSegment, second: RecognizedSegment) -> RecognizedSegment | None:
        """The two as one: where that is accepted and neither was, and where the first was but may
        go on in the second; None where they stand apart."""
        if second.decision.status == "accepted":
            return None
        sure = first.decision.status == "accepted"
        if sure and not self.may_go_on(first):
            return None
        if sure and speech_pause(first.segment, second.segment) > HOLD_S * RATE:
            return None
        if second.segment.start - segment_end(first.segment) > MAX_JOIN_PAUSE_S * RATE:
            return None
        if segment_end(second.segment) - first.segment.start > MAX_JOINED_S * RATE:
            return None
        whole = self.recognize_one(_joined(first.segment, second.segment))
        if sure:
            return self._gone_on(first, second, whole)
        return whole if whole.decision.status == "accepted" else None

    def _gone_on(
        self,
        first: RecognizedSegment,
        second: RecognizedSegment,
        whole: RecognizedSegment,
    ) -> RecognizedSegment | None:
        """What becomes of a sure note and of what began soon after and is not sure, heard together
        as `whole`: None where that says no more than the first. It is sure only where it goes on
        from the first; where it surely says something else, or may go on from the first, it is to
        check."""
        told = whole.decision
        begun = self.grammar.interpret(first.decision.words) or ()
        readings = (told.words, *told.alternatives)
        going_on = [one for one in readings if self.grammar.goes_on_from(one, first.decision.words)]
        if told.status == "accepted" and told.words not in going_on:
            said = phrase_meaning(self.grammar.interpret(told.words) or ())
            behind = self.grammar.interpret(second.decision.words) or ()
            agree = said in (phrase_meaning(begun), phrase_meaning((*begun, *behind)))
            return None if agree else doubted(whole, first.decision.words)
        if told.status == "accepted":
            return whole
        likely = told.words in going_on or (going_on and told.status == "doubtful")
        return doubted(whole, first.decision.words) if likely else None

    def events(self, heard: RecognizedSegment, recording: str) -> _Events:
        segment, decision = heard.segment, heard.decision
        judge = shipped_artifact().decision_version
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
            for name, words, chance in heard.heard
        )
        verdict = Verdict(
            id=_named(
                "v",
                utterance.id,
                judge,
                *(reading.id for reading in readings),
                *filter(None, (decision.stranger,)),
            ),
            utterance=utterance.id,
            status=decision.status,
            words=decision.words,
            confidence=round(decision.confidence, 4),
            alternatives=decision.alternatives,
            stranger=decision.stranger,
            judge=judge,
        )
        return utterance, readings, verdict


def _is_settled_by_phones(heard: RecognizedSegment) -> bool:
    """Whether what the careful recognizer tells is enough: it is sure, also that it was no note. A
    level beyond the range, or a name that may be another, stays to check in any case."""
    told = heard.decision
    if told.status == "rejected":
        return told.confidence < UNLIKELY
    return told.confidence >= SETTLED and not (told.status == "accepted" and _is_drowned(heard))


def _is_drowned(heard: RecognizedSegment) -> bool:
    """Whether hardly any speech stands out of the noise, and a reading is no more than likely."""
    told, segment = heard.decision, heard.segment
    above_db = speech_band_above_noise_db(segment.usual, segment.noise)
    if " " not in told.words:
        return above_db < MIN_WORD_BAND_DB
    sure = heard.heard_phones is not None and told.confidence >= ACCEPT_DROWNED
    return above_db < MIN_SPEECH_BAND_DB and not sure


def _lifted(segment: Segment) -> Segment:
    """A faint segment made louder, with the noise around it; any other as it is."""
    gain = np.float32(segment_gain(segment.sound))
    if gain == 1.0:
        return segment
    noise = None if segment.noise is None else segment.noise * gain**2
    return replace(segment, sound=segment.sound * gain, noise=noise)


def _joined(first: Segment, second: Segment) -> Segment:
    """Two segments as one; what lies in neither is silence."""
    gap = np.zeros(max(0, second.start - segment_end(first)), np.float32)
    still = np.zeros(len(gap) // FRAME, np.bool_)
    return Segment(
        first.start,
        second.end,
        np.concatenate((first.sound, gap, second.sound)),
        first.noise,
        np.concatenate((first.speech, still, second.speech)),
        first.early,
        second.late,
    )


def _step(whole: RecognizedSegment, sample: int) -> int:
    """Where in the posteriors of a segment a sample of the stream lies."""
    return (sample - whole.segment.start) // STEP


def _same(one: Segment, other: Segment) -> bool:
    """Whether two segments of a stream are the same stretch of it."""
    return (one.start, len(one.sound)) == (other.start, len(other.sound))


def _named(kind: str, *parts: str) -> str:
    """An id that follows from content."""
    digest = hashlib.sha256("\0".join(parts).encode()).hexdigest()
    return f"{kind}-{digest[:16]}"
