"""The readings that a segment may have, and what speaks for and against each.

They come from the phones that the careful recognizer hears, from what the quick one heard, and from
what lies beside either: neighbouring numbers, words that sound alike. Whatever lies nearly as well
in the phones is among them, with a word more or less too: what is not considered cannot win. Then
each is put before both: how well does the sound fit these words, how well do they lie in the
phones?
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import repeat
from typing import NamedTuple

import numpy as np

from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar, RecognitionContext, beyond_range
from voicelog.grammar.number_confusions import number_confusions
from voicelog.grammar.pronunciation import NoPronunciationError, shipped_pronouncer
from voicelog.grammar.sound_alikes import differ_by_number, sound_alike_readings
from voicelog.model import Phrase
from voicelog.model.phrases import phrase_meaning
from voicelog.recognition.careful_recognizer import CarefulRecognizer
from voicelog.recognition.ctc import (
    CtcPath,
    NoteSearch,
    align_readings,
    best_path,
    phones_heard,
)
from voicelog.recognition.name_verification import (
    LOUD_NOISE_DB,
    MAX_RIVAL_MARGIN,
    MAX_RIVAL_MARGIN_IN_NOISE,
    MIN_NAME_SCORE,
    MIN_OTHER_NAME_MARGIN,
    MIN_REST_SCORE,
    rival_readings,
    session_name_spans,
)
from voicelog.recognition.noise_reduction import NOISY_DB, level_above_noise_db, reduce_noise
from voicelog.recognition.phone_posteriors import Posteriors
from voicelog.recognition.quick_recognizer import (
    NO_HYPOTHESIS,
    AligningRecognizer,
    Alignment,
    Hypothesis,
    QuickRecognizer,
)
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.teen_layer import NumberPlace, TeenPair
from voicelog.recognition.voice_activity import FRAME

__all__ = ["Candidate", "CandidateSet", "HeardPhones", "generate_candidates"]

MAX_NATS_BEHIND = 12.0
"""Nats that a reading may be behind the likeliest, in the phones, to be looked into further: of the
right readings 99% were less."""
MIN_NATS_PER_PHONE = -6.0
"""Nats for each phone by which what was said must not be likelier than a reading: then other
words were."""
MIN_BEST_SCORE = -80.0
"""Nats that the notes which lie best may be behind the likeliest phones of any kind: of a segment
further behind, which is talk, no reading is kept. Of 2,465 segments of recordings that were sure or
to check (version 15) none was more than 67 behind."""
MAX_ALIGNED = 8
"""Readings that the quick recognizer is asked to align, beside its own and what sounds alike."""
MAX_RIVALS = 12
"""Readings at most that are taken from the phones alone, by their meaning."""
BESIDE = 2
"""Readings whose neighbours and sound-alikes are candidates too."""
NAMES = 2
"""Readings, those that lie best, whose session's name is held against other words."""


@dataclass(frozen=True, slots=True)
class PhoneEvidence:
    """How a reading lies in the phones that were heard.

    With L(r) the log-likelihood (nats) of the best CTC path of reading r, and L(free) that of the
    likeliest phones of any kind, frame by frame:

    first: it is the reading with the greatest L of all that the grammar allows.
    score_behind_best: L(r) - the greatest L of any candidate; nats, 0 or less.
    score_per_phone: (L(r) - L(free)) / phones of r; nats a phone, 0 or less.
    score_between_words: of L(r) - L(free), the part of the frames that lie under none of r's
        words; nats, 0 or less.
    uncertainty_per_phone: - sum over t and k of p(t, k) ln p(t, k), the entropy of all frames
        (Shannon, Bell System Technical Journal 27, 1948), / phones of r; nats a phone, 0 or more.
    name: the part that a dog's or handler's name bears that says whose session it is, and
        score_between_words; nats, 0 or less; None without such a name.
    rest: the part that the other words bear; nats, 0 or less.
    rival: the greatest L with another word in the place of that name - L(r); nats, more than 0
        where another lies better, infinitely little where there is none.
    ahead: L(r) - the greatest L with a number that sounds like that of r in its place; nats,
        infinite where none lies in the sound, None where nothing sounds like it, or more than a
        number does.
    number_odds: for each of its numbers in -teen or -ty ("thirteen", "thirty"), ln of how likely
        that was said over how likely the one that sounds like it; nats; see teen_layer.py.
    name_sound: the likeliest phones in that name's place, between the words beside it; "" without
        such a name.
    """

    first: bool
    score_behind_best: float
    score_per_phone: float
    score_between_words: float
    uncertainty_per_phone: float = 0.0
    name: float | None = None
    rest: float = 0.0
    rival: float = -math.inf
    ahead: float | None = None
    number_odds: tuple[float, ...] = ()
    name_sound: str = ""

    @property
    def verified_name(self) -> bool:
        """Whether the name is the one on the roster, as far as the phones tell."""
        return (
            self.name is not None and self.name >= MIN_NAME_SCORE and self.rival <= MAX_RIVAL_MARGIN
        )

    @property
    def missing_name(self) -> bool:
        """Whether all was said but the name, which is another."""
        return self.name is not None and not self.verified_name and self.rest >= MIN_REST_SCORE

    @property
    def other_name(self) -> bool:
        """Whether all was said but the name, which is surely another."""
        far = self.rival > MIN_OTHER_NAME_MARGIN or (self.name or 0.0) < MIN_NAME_SCORE
        return self.missing_name and far


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading of a segment, and what speaks for and against it.

    quick: it is the quick recognizer's own reading.
    repeat_agreement: the share of the quick recognizer's repeated decodings that gave it, 0 to 1.
    match: how well the sound fits the words, None where they cannot lie in it.
    unaligned_s: seconds of speech (by the voice activity detector) under none of the words.
    phones: phones for each of its phrases, on average; notes may follow each other in any order,
        so in talk that is none the search finds rows of short ones.
    phone_evidence: how it lies in the phones; None where no careful recognizer heard.
    """

    words: str
    quick: bool
    repeat_agreement: float
    match: Alignment | None
    unaligned_s: float
    phones: float
    phone_evidence: PhoneEvidence | None = None


@dataclass(frozen=True, slots=True)
class CandidateSet:
    """A segment: what was heard in it, the readings it may have, and its circumstances.

    heard: what the quick recognizer took it to say.
    above_noise_db: how far its loud frames stand above the noise (dB); see level_above_noise_db.
    heard_phones: what the careful recognizer heard, None where there is none.
    """

    heard: Hypothesis
    candidates: tuple[Candidate, ...]
    above_noise_db: float
    heard_phones: HeardPhones | None = None

    @property
    def verified_name(self) -> tuple[str, ...]:
        """The candidates whose dog or handler is surely the one named; in loud noise no other word
        may lie nearly as well."""
        noisy = self.above_noise_db < LOUD_NOISE_DB
        most = MAX_RIVAL_MARGIN_IN_NOISE if noisy else MAX_RIVAL_MARGIN
        told = ((one.words, one.phone_evidence) for one in self.candidates)
        return tuple(
            words
            for words, phones in told
            if phones and phones.verified_name and phones.rival <= most
        )

    @property
    def missing_name(self) -> Mapping[str, str]:
        """The candidates of which all was said but the name of a dog or handler, each with the
        phones that were heard in its place where they are surely another name; else ""."""
        told = ((one.words, one.phone_evidence) for one in self.candidates)
        return {
            words: phones.name_sound if phones.other_name else ""
            for words, phones in told
            if phones and phones.missing_name
        }

    @property
    def ahead_of_sound_alikes(self) -> dict[str, float]:
        """How far ahead of the numbers that sound like its own a candidate lies in the phones
        (nats), by its words; of those that have such numbers."""
        told = ((one.words, one.phone_evidence) for one in self.candidates)
        return {
            words: phones.ahead for words, phones in told if phones and phones.ahead is not None
        }

    @property
    def number_odds(self) -> dict[str, float]:
        """The least of PhoneEvidence.number_odds (nats) of a candidate, by its words; of those that
        have numbers in -teen or -ty."""
        told = ((one.words, one.phone_evidence) for one in self.candidates)
        return {
            words: min(phones.number_odds)
            for words, phones in told
            if phones and phones.number_odds
        }


def generate_candidates(
    segment: Segment,
    grammar: Grammar,
    recognition_context: RecognitionContext,
    quick: QuickRecognizer | None,
    careful: CarefulRecognizer | None,
    heard_phones: HeardPhones | None = None,
) -> CandidateSet:
    """Hear a segment with the quick recognizer, the careful one or both, and look into each reading
    it may have.

    heard_phones: what the careful recognizer told of this segment, where it has heard it just
    before.
    The candidates are in order of how they lie in the phones, best first; without a careful
    recognizer in the order that they were found. Raises CarefulStoppedError and ModelError of the
    careful recognizer.
    """
    found = _Readings(grammar, recognition_context)
    above_noise_db = level_above_noise_db(segment.usual, segment.noise)
    if careful is not None and heard_phones is None:
        sounds = [segment.sound]
        if segment.noise is not None and above_noise_db < NOISY_DB:
            sounds.append(reduce_noise(segment.sound, segment.noise))
        careful.load_segment(*sounds)
        heard_phones = HeardPhones(careful.phones(), grammar, recognition_context)
    if heard_phones is not None:
        for reading in heard_phones.readings:
            found.add(reading.words, *reading.sources)
    heard = quick.hear(segment.sound, segment.noise) if quick else NO_HYPOTHESIS
    found.add_heard(heard)
    if heard_phones is not None and careful is not None:
        looked_into = _readings_by_phone_score(heard_phones, found, careful)
    else:
        looked_into = [_EvaluatedReading(reading) for reading in found.all]
    matching = quick if isinstance(quick, AligningRecognizer) else None
    candidates = []
    for reading, phone_evidence in looked_into:
        if "quick" in reading.sources:
            match = heard.match
        else:
            match = matching.match(segment.sound, reading.words) if matching else None
        candidates.append(
            Candidate(
                words=reading.words,
                quick="quick" in reading.sources,
                repeat_agreement=reading.sources.count("repeat") / max(1, len(heard.repeats)),
                match=match,
                unaligned_s=_unaligned_speech_s(segment, match),
                phones=reading.phones,
                phone_evidence=phone_evidence,
            )
        )
    return CandidateSet(heard, tuple(candidates), above_noise_db, heard_phones)


@dataclass(slots=True)
class _Reading:
    """A reading, and where it came from ("quick", "repeat", "phones", "beside", ...)."""

    words: str
    phrases: tuple[Phrase, ...]
    sources: list[str] = field(default_factory=list)

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

    def __init__(self, grammar: Grammar, recognition_context: RecognitionContext) -> None:
        self.grammar, self.recognition_context = grammar, recognition_context
        self.found: dict[tuple[object, ...], _Reading] = {}

    @property
    def all(self) -> list[_Reading]:
        return list(self.found.values())

    def add(self, words: str, *sources: str) -> None:
        phrases = self.grammar.interpret(words) if words else None
        if phrases is None:
            return
        meaning = phrase_meaning(phrases)
        self.found.setdefault(meaning, _Reading(words, phrases)).sources.extend(sources)

    def add_phones(self, posteriors: Posteriors) -> None:
        """Add the notes that lie best in the phones, those that lie nearly as well, and what else
        but for their worst word."""
        search = NoteSearch(posteriors, self.grammar)
        best = search.best
        if best is None or best.log_likelihood_ratio < MIN_BEST_SCORE:
            return
        if not best.words or best.score_per_phone < MIN_NATS_PER_PHONE:
            return
        self.add(best.words, "phones")
        for words in search.readings(MAX_NATS_BEHIND):
            self.add(words, "rival")
            if len(self.found) >= MAX_RIVALS:
                break
        other = best_path(posteriors, self.grammar, without=best.worst_word)
        self.add(other.words if other else "", "but for a word")
        if beyond_range(self.grammar, best.words, self.recognition_context):
            within = best_path(posteriors, self.grammar, self.recognition_context)
            self.add(within.words if within else "", "within range")

    def add_heard(self, heard: Hypothesis) -> None:
        """What the quick recognizer heard, and in its repeated decodings."""
        self.add(heard.words, "quick")
        for words in (*heard.repeats, *heard.others):
            self.add(words, "repeat" if words in heard.repeats else "other")

    def add_confusable(self) -> None:
        for one in self.all[:BESIDE]:
            for words in sound_alike_readings(self.grammar, one.words):
                self.add(words, "alike")
            for words in number_confusions(self.grammar, one.words):
                self.add(words, "beside")


class HeardPhones:
    """The phones that the careful recognizer told of a segment, and what was found in them: what is
    asked once more, when the quick one has heard it too, is not searched once more.

    posteriors: ln p(t, k), as phone_posteriors.py tells them.
    """

    def __init__(
        self, posteriors: Posteriors, grammar: Grammar, recognition_context: RecognitionContext
    ) -> None:
        self.posteriors = posteriors
        self._grammar, self._recognition_context = grammar, recognition_context
        self._paths: dict[str, CtcPath | None] = {}

    @cached_property
    def readings(self) -> tuple[_Reading, ...]:
        """The notes that lie best, those that lie nearly as well, and what else but for their worst
        word."""
        found = _Readings(self._grammar, self._recognition_context)
        found.add_phones(self.posteriors)
        return tuple(found.all)

    @cached_property
    def uncertainty(self) -> float:
        """The entropy of all frames (nats)."""
        return -float((np.exp(self.posteriors) * self.posteriors).sum())

    def align(self, readings: Sequence[str]) -> tuple[CtcPath | None, ...]:
        """As `ctc.align_readings`."""
        unknown = [words for words in dict.fromkeys(readings) if words not in self._paths]
        if unknown:
            self._paths.update(zip(unknown, align_readings(self.posteriors, unknown), strict=True))
        return tuple(self._paths[words] for words in readings)


class _EvaluatedReading(NamedTuple):
    """A reading, and how it lies in the phones."""

    reading: _Reading
    phone_evidence: PhoneEvidence | None = None


def _readings_by_phone_score(
    phones: HeardPhones, found: _Readings, careful: CarefulRecognizer
) -> list[_EvaluatedReading]:
    """The readings worth looking into by how they lie in the phones, best first; the passes'
    own are among them, unless the phones are quite others, and what sounds like the best."""
    found.add_confusable()
    readings = found.all
    paths = phones.align([one.words for one in readings])
    lying = [(one, path) for one, path in zip(readings, paths, strict=True) if path is not None]
    lying.sort(key=lambda pair: -pair[1].score)
    best = lying[0][1].score if lying else 0.0
    numbers = _AlikeNumbers(phones, found.grammar, lying, careful)
    plausible = [pair for pair in lying if pair[1].score_per_phone >= MIN_NATS_PER_PHONE]
    looked_into = [
        (one, path)
        for place, (one, path) in enumerate(plausible)
        if {"phones", "quick"} & set(one.sources)
        or (
            path.score - best >= -MAX_NATS_BEHIND
            and (place < MAX_ALIGNED or "alike" in one.sources)
        )
    ]
    named = [one for one, _ in looked_into if session_name_spans(one.phrases)][:NAMES]
    return [
        _EvaluatedReading(
            one,
            phone_evidence=_phone_evidence(phones, one, path, best, numbers, named=one in named),
        )
        for one, path in looked_into
    ]


class _AlikeNumbers:
    """How the readings lie that have a number which sounds alike in place of another's, and which
    of the two was said."""

    def __init__(
        self,
        phones: HeardPhones,
        grammar: Grammar,
        lying: Sequence[tuple[_Reading, CtcPath]],
        careful: CarefulRecognizer,
    ) -> None:
        self._alike: dict[str, tuple[str, ...]] = {}
        for reading, _ in lying:
            others = sound_alike_readings(grammar, reading.words)
            if others and all(differ_by_number(grammar, reading.words, one) for one in others):
                self._alike[reading.words] = others
        self._paths = {reading.words: path for reading, path in lying}
        every = dict.fromkeys(one for others in self._alike.values() for one in others)
        unknown = [words for words in every if words not in self._paths]
        paths = phones.align(unknown)
        self._paths |= {
            words: path for words, path in zip(unknown, paths, strict=True) if path is not None
        }
        asked = {
            pair: place
            for words, others in self._alike.items()
            for pair in map(TeenPair.of, repeat(words), others)
            if pair is not None and (place := self._place(pair)) is not None
        }
        told = careful.teen_odds(tuple(asked.values())) if asked else ()
        self._odds = dict(zip(asked, told, strict=True))

    def ahead(self, words: str, score: float) -> float | None:
        """See PhoneEvidence."""
        others = self._alike.get(words)
        if others is None:
            return None
        return score - max(self._score(one) for one in others)

    def odds(self, words: str) -> tuple[float, ...]:
        """See PhoneEvidence; none where another number sounds like one of it too."""
        others = self._alike.get(words, ())
        told = [
            self._odds[pair] if pair.teen == words else -self._odds[pair]
            for other in others
            if (pair := TeenPair.of(words, other)) in self._odds and pair is not None
        ]
        return tuple(told) if len(told) == len(others) else ()

    def _score(self, words: str) -> float:
        path = self._paths.get(words)
        return path.score if path is not None else -math.inf

    def _place(self, pair: TeenPair) -> NumberPlace | None:
        """Where the number lies, by the better of the two; None where one cannot lie at all."""
        teen, ten = self._paths.get(pair.teen), self._paths.get(pair.ten)
        if teen is None or ten is None:
            return None
        better = teen if teen.score >= ten.score else ten
        return NumberPlace(*better.word_frames[pair.word], ahead=teen.score - ten.score)


def _phone_evidence(
    phones: HeardPhones,
    reading: _Reading,
    path: CtcPath,
    best: float,
    alike: _AlikeNumbers,
    *,
    named: bool,
) -> PhoneEvidence:
    """What the phones say of a reading; all scores in nats.

    path: how the reading lies in `phones`, as ctc.py defines its scores. best: the score of
    the reading that lies best. A rival is the reading with a word that sounds nearly alike in place
    of a name; `rival` is how much more the best of them scores. `name` is the part of the ratio
    under the names of a session and between the words, None of no name; `rest` the part under all
    other words. named: whether its names are looked into.
    """
    spans = session_name_spans(reading.phrases) if named else ()
    rivals = phones.align(rival_readings(reading.words, spans)) if spans else ()
    rival = max((one.score - path.score for one in rivals if one), default=-math.inf)
    under_names = sum(sum(path.word_scores[span.start : span.stop]) for span in spans)
    return PhoneEvidence(
        first="phones" in reading.sources,
        score_behind_best=path.score - best,
        score_per_phone=path.score_per_phone,
        score_between_words=path.score_between_words,
        uncertainty_per_phone=phones.uncertainty / max(1, path.phones),
        name=under_names + path.score_between_words if spans else None,
        rest=sum(path.word_scores) - under_names,
        rival=rival,
        ahead=alike.ahead(reading.words, path.score),
        number_odds=alike.odds(reading.words),
        name_sound=_name_sound(phones.posteriors, path, spans[0]) if spans else "",
    )


def _name_sound(posteriors: Posteriors, path: CtcPath, span: range) -> str:
    """The phones heard where the words of `span` are, from the end of the word before them to the
    beginning of the word after."""
    first = path.word_frames[span.start - 1][1] + 1 if span.start else 0
    beyond = span.stop < len(path.word_frames)
    last = path.word_frames[span.stop][0] - 1 if beyond else len(posteriors) - 1
    return phones_heard(posteriors, first, last)


def _unaligned_speech_s(segment: Segment, match: Alignment | None) -> float:
    """Seconds of speech that lie under none of the words.

    Each frame of speech counts FRAME / RATE seconds unless its middle lies under a word.
    """
    unaligned = segment.speech.copy()
    centres = (np.arange(len(unaligned)) + 0.5) * FRAME / RATE
    for word in match.times if match else ():
        unaligned[(centres >= word.start_s) & (centres < word.end_s)] = False
    return float(unaligned.sum()) * FRAME / RATE
