"""The readings that a segment may have, and what speaks for and against each.

They come from the quick listener's hearings, from the phones that the careful one hears, and
from what lies beside either: neighbouring numbers, words that sound alike. Then each is put
before both: how well does the sound fit these words, how well do they lie in the phones?
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from voicelog.grammar.grammar import Grammar, RecognitionContext, beyond_range
from voicelog.grammar.number_confusions import number_confusions
from voicelog.grammar.pronunciation import NoPronunciationError, shipped_pronouncer
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Phrase
from voicelog.model.phrases import phrase_meaning
from voicelog.recognition.ctc import CtcPath, align_readings, best_path
from voicelog.recognition.first_pass import (
    NO_HYPOTHESIS,
    RATE,
    AligningRecognizer,
    Alignment,
    FirstPassRecognizer,
    Hypothesis,
)
from voicelog.recognition.name_verification import (
    MAX_RIVAL_MARGIN,
    MIN_ABOVE_NOISE_DB,
    MIN_NAME_SCORE,
    MIN_REST_SCORE,
    rival_readings,
    session_name_spans,
)
from voicelog.recognition.noise_reduction import NOISY_DB, level_above_noise_db, reduce_noise
from voicelog.recognition.phone_posteriors import Posteriors
from voicelog.recognition.second_pass import SecondPassRecognizer
from voicelog.recognition.segmenter import FRAME, Segment

__all__ = ["Candidate", "CandidateSet", "generate_candidates"]

MAX_NATS_BEHIND = 12.0
"""Nats that a reading may be behind the likeliest, in the careful listener's opinion, to be looked
into further: of the right readings 99% were less."""
MIN_NATS_PER_PHONE = -6.0
"""Nats for each phone by which what was said must not be likelier than a reading: then other
words were."""
MAX_ALIGNED = 4
"""Readings that the quick listener is then asked about, beside its own."""
BESIDE = 2
"""Readings whose neighbours and twins are candidates too."""


@dataclass(frozen=True, slots=True)
class PhoneEvidence:
    """How a reading lies in the phones that were heard.

    first: no other does better; behind: nats that it is behind the one that is first; short:
    nats for each of its phones that it is behind the likeliest phones of any kind; between: of
    those nats, all that none of its words bears; name: all that a dog's or handler's name bears
    that says whose session it is, and what no word bears, None without such a name; rest: what
    the other words bear. All 0 or less. rival: nats by which another word lies better in the place
    of that name, 0 or more.
    """

    first: bool
    behind: float
    short: float
    between: float
    name: float | None = None
    rest: float = 0.0
    rival: float = 0.0

    @property
    def familiar(self) -> bool:
        """Whether the name is the one on the roster, as far as the phones tell."""
        return (
            self.name is not None and self.name >= MIN_NAME_SCORE and self.rival <= MAX_RIVAL_MARGIN
        )

    @property
    def missing_name(self) -> bool:
        """Whether all was said but the name, which is another."""
        return self.name is not None and not self.familiar and self.rest >= MIN_REST_SCORE


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading of a segment.

    quick: it is the quick listener's own; again: the share of its further hearings that agree.
    match: how well the sound fits the words, None where they cannot lie in it.
    untold_s: seconds of speech that lie under none of the words.
    phones: of each of its phrases, on average; notes may follow each other in any order, so
        in talk that is none the search finds rows of short ones.
    in_phones: None where no phones were heard.
    """

    words: str
    quick: bool
    again: float
    match: Alignment | None
    untold_s: float
    phones: float
    in_phones: PhoneEvidence | None = None


@dataclass(frozen=True, slots=True)
class CandidateSet:
    """A segment: what each listener heard, the readings it may have, and its circumstances.

    loud_db: how far its loud frames stand above the noise (dB).
    posteriors: the phones that a careful listener told, None where there is none.
    """

    heard: Hypothesis
    candidates: tuple[Candidate, ...]
    above_noise_db: float
    posteriors: Posteriors | None = None

    @property
    def familiar(self) -> tuple[str, ...]:
        """The candidates whose dog or handler is surely the one named; none is in loud noise."""
        if self.above_noise_db < MIN_ABOVE_NOISE_DB:
            return ()
        told = ((one.words, one.in_phones) for one in self.candidates)
        return tuple(words for words, phones in told if phones and phones.familiar)

    @property
    def missing_name(self) -> tuple[str, ...]:
        """The candidates of which all was said but the name of a dog or handler."""
        told = ((one.words, one.in_phones) for one in self.candidates)
        return tuple(words for words, phones in told if phones and phones.missing_name)


def generate_candidates(
    segment: Segment,
    grammar: Grammar,
    narrowing: RecognitionContext,
    quick: FirstPassRecognizer | None,
    careful: SecondPassRecognizer | None,
) -> CandidateSet:
    """Hear a segment with one listener or both, and look into each reading it may have."""
    found = _Readings(grammar, narrowing)
    above_noise_db = level_above_noise_db(segment.sound, segment.noise)
    if careful is not None:
        sounds = [segment.sound]
        if segment.noise is not None and above_noise_db < NOISY_DB:
            sounds.append(reduce_noise(segment.sound, segment.noise))
        careful.attend(*sounds)
    heard = quick.hear(segment.sound, segment.noise) if quick else NO_HYPOTHESIS
    posteriors = careful.phones() if careful is not None else None
    if posteriors is not None:
        found.add_phones(posteriors)
    found.add_heard(heard)
    if posteriors is not None:
        looked_into = _readings_by_phone_score(posteriors, found)
    else:
        looked_into = [_EvaluatedReading(reading) for reading in found.all]
    matching = quick if isinstance(quick, AligningRecognizer) else None
    candidates = []
    for reading, in_phones in looked_into:
        if "quick" in reading.ways:
            match = heard.match
        else:
            match = matching.match(segment.sound, reading.words) if matching else None
        candidates.append(
            Candidate(
                words=reading.words,
                quick="quick" in reading.ways,
                again=reading.ways.count("again") / max(1, len(heard.again)),
                match=match,
                untold_s=_unaligned_speech_s(segment, match),
                phones=reading.phones,
                in_phones=in_phones,
            )
        )
    return CandidateSet(heard, tuple(candidates), above_noise_db, posteriors)


@dataclass(slots=True)
class _Reading:
    """A reading, and by which ways it was come to."""

    words: str
    phrases: tuple[Phrase, ...]
    ways: list[str] = field(default_factory=list)

    @property
    def phones(self) -> float:
        """Phones of each of its phrases on average; letters, where it cannot be pronounced."""
        try:
            sound: Sequence[str] = shipped_pronouncer().phrase(self.words)[0]
        except NoPronunciationError:
            sound = self.words.replace(" ", "")
        return len(sound) / len(self.phrases)


class _Readings:
    """Readings by what they mean: two wordings of the same are one."""

    def __init__(self, grammar: Grammar, narrowing: RecognitionContext) -> None:
        self.grammar, self.narrowing = grammar, narrowing
        self.found: dict[tuple[object, ...], _Reading] = {}

    @property
    def all(self) -> list[_Reading]:
        return list(self.found.values())

    def add(self, words: str, *ways: str) -> None:
        phrases = self.grammar.interpret(words) if words else None
        if phrases is None:
            return
        meaning = phrase_meaning(phrases)
        self.found.setdefault(meaning, _Reading(words, phrases)).ways.extend(ways)

    def add_phones(self, posteriors: Posteriors) -> None:
        """The notes that lie best in the phones, and what else but for their worst word."""
        best = best_path(posteriors, self.grammar)
        if best is None or not best.words or best.short < MIN_NATS_PER_PHONE:
            return
        self.add(best.words, "phones")
        other = best_path(posteriors, self.grammar, without=best.worst_word)
        self.add(other.words if other else "", "but for a word")
        if beyond_range(self.grammar, best.words, self.narrowing):
            within = best_path(posteriors, self.grammar, self.narrowing)
            self.add(within.words if within else "", "within range")

    def add_heard(self, heard: Hypothesis) -> None:
        """What the quick listener heard, at first and again."""
        self.add(heard.words, "quick")
        for words in (*heard.again, *heard.others):
            self.add(words, "again" if words in heard.again else "other")

    def add_confusable(self) -> None:
        for one in self.all[:BESIDE]:
            alike = sound_alike_readings(self.grammar, one.words)
            for words in (*alike, *number_confusions(self.grammar, one.words)):
                self.add(words, "beside")


class _EvaluatedReading(NamedTuple):
    """A reading, and what the careful listener has to say of it."""

    reading: _Reading
    in_phones: PhoneEvidence | None = None


def _readings_by_phone_score(posteriors: Posteriors, found: _Readings) -> list[_EvaluatedReading]:
    """The readings worth looking into by how they lie in the phones, best first; the listeners'
    own are among them, unless the phones are quite others."""
    found.add_confusable()
    readings = found.all
    found_ways = align_readings(posteriors, [one.words for one in readings])
    lying = [(one, way) for one, way in zip(readings, found_ways, strict=True) if way is not None]
    best = max((way.score for _, way in lying), default=0.0)
    looked_into = [
        _EvaluatedReading(
            one,
            in_phones=_in_phones(posteriors, one, way, best),
        )
        for one, way in lying
        if way.short >= MIN_NATS_PER_PHONE
    ]
    ranked = sorted(looked_into, key=lambda one: -_behind(one))
    own = {"phones", "quick"}
    return [
        one
        for place, one in enumerate(ranked)
        if (place < MAX_ALIGNED and _behind(one) >= -MAX_NATS_BEHIND) or own & set(one.reading.ways)
    ]


def _in_phones(
    posteriors: Posteriors, reading: _Reading, way: CtcPath, best: float
) -> PhoneEvidence:
    spans = session_name_spans(reading.phrases)
    rivals = align_readings(posteriors, rival_readings(reading.words, spans)) if spans else ()
    ahead = max((rival.score - way.score for rival in rivals if rival), default=0.0)
    named = sum(sum(way.word_scores[span.start : span.stop]) for span in spans)
    return PhoneEvidence(
        first="phones" in reading.ways,
        behind=way.score - best,
        short=way.short,
        between=way.between,
        name=named + way.between if spans else None,
        rest=sum(way.word_scores) - named,
        rival=max(0.0, ahead),
    )


def _behind(one: _EvaluatedReading) -> float:
    return one.in_phones.behind if one.in_phones else 0.0


def _unaligned_speech_s(segment: Segment, match: Alignment | None) -> float:
    """Seconds of speech that lie under none of the words."""
    untold = segment.speech.copy()
    centres = (np.arange(len(untold)) + 0.5) * FRAME / RATE
    for word in match.times if match else ():
        untold[(centres >= word.start_s) & (centres < word.end_s)] = False
    return float(untold.sum()) * FRAME / RATE
