"""How likely each reading of a segment is right, from all that speaks for and against it.

A conditional logit (McFadden, in Frontiers in Econometrics, 1974): reading r with the features
x(r) has the score s(r) = w . x(r); "none of these" has the score 0; and

    P(r) = exp s(r) / (1 + sum over all readings q of exp s(q))

Readings are so held against each other and against other talk at once. What the features weigh
depends on which recognizers heard the segment (fusion.py); the weights ship in the artifact.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from voicelog.recognition.candidates import Candidate, CandidateSet
from voicelog.recognition.noise_reduction import NOISY_DB
from voicelog.recognition.teen_layer import in_teens

__all__ = ["IN_NOISE", "SIGNS", "candidate_probabilities", "features", "probabilities"]

LOWEST_MEAN_WORD_SCORE, LOWEST_WORST_WORD_SCORE = -4.0, -5.0
"""Nats a frame: of a reading that cannot lie in the sound, and the least of any."""
HIGHEST_UNCERTAINTY = 4.0
"""Nats a phone: more tells no more."""
LOWEST_BEHIND_BEST, LOWEST_PER_PHONE, LOWEST_BETWEEN_WORDS = -30.0, -4.0, -20.0
"""Nats: less than this tells no more."""
SILENT_DB = 40.0
"""Above so much over the noise (dB) it is simply quiet."""
USUAL_PHONES = 5.0
"""Of a short phrase ("came" has three, "neck twitch" eight)."""

IN_NOISE: Mapping[str, str] = {
    "repeat_agreement": "repeat_agreement in noise",
    "fit": "fit in noise",
    "unaligned_s": "unaligned in noise",
}
"""Features that may weigh otherwise in noise, and the feature that says by how much: the one
times "noise". A feature so weighs w in quiet and w + w(in noise) in full noise."""

SIGNS: Mapping[str, Literal[-1, 1]] = {
    "quick": 1,
    "repeat_agreement": 1,
    "fit": 1,
    "least": 1,
    "pace": 1,
    "phones first": 1,
    "score_behind_best": 1,
    "score_per_phone": 1,
    "score_between_words": 1,
    "uncertainty_per_phone": -1,
    "unaligned_s": -1,
}
"""Features whose sense is known before any fit, in quiet and in noise: more of those with 1 never
makes a reading less likely, more of those with -1 never likelier. The others may weigh either
way: they tell of the segment or the wording, not of how well the two agree."""


def features(candidate: Candidate, candidate_set: CandidateSet) -> dict[str, float]:
    """What speaks for and against a reading, by name; each about of size 1.

    constant: 1.
    quick: 1 for the quick recognizer's own reading, else 0.
    repeat_agreement: share of the quick recognizer's repeated decodings that gave it, 0 to 1.
    fit: mean log score a frame over its words (nats), not below LOWEST_MEAN_WORD_SCORE.
    least: the same of the word that fits worst, not below LOWEST_WORST_WORD_SCORE.
    pace: ln of the frames (10 ms) for each phone of its most hurried word, 0 or more.
    unaligned_s: seconds of speech under none of its words.
    single: 1 for a reading of one word, else 0.
    phones: ln of the phones for each of its phrases / USUAL_PHONES.
    loud: tens of dB that the segment stands above the noise, at most SILENT_DB / 10.
    noise: how loud the noise is, 1 - dB above the noise / NOISY_DB, held to 0 (quiet) to 1 (full
        noise: speech stands no dB above it).
    "... in noise": the feature times noise; see IN_NOISE.

    Where a careful recognizer heard, as told in PhoneEvidence and not below the constants above:
    "phones first" (0 or 1), score_behind_best (tens of nats), score_per_phone (nats a phone),
    score_between_words (tens of nats), uncertainty_per_phone (nats a phone, at most
    HIGHEST_UNCERTAINTY).
    """
    match, phones = candidate.match, candidate.phone_evidence
    known = {
        "constant": 1.0,
        "quick": float(candidate.quick),
        "repeat_agreement": candidate.repeat_agreement,
        "fit": max(match.mean_word_score if match else -math.inf, LOWEST_MEAN_WORD_SCORE),
        "least": max(match.worst_word_score if match else -math.inf, LOWEST_WORST_WORD_SCORE),
        "pace": math.log(max(match.frames_per_phone, 1.0)) if match else 0.0,
        "unaligned_s": candidate.unaligned_s,
        "single": float(" " not in candidate.words),
        "phones": math.log(candidate.phones / USUAL_PHONES),
        "loud": min(candidate_set.above_noise_db, SILENT_DB) / 10,
        "noise": min(max(1.0 - candidate_set.above_noise_db / NOISY_DB, 0.0), 1.0),
    }
    known |= {in_noise: known[name] * known["noise"] for name, in_noise in IN_NOISE.items()}
    if phones is not None:
        known |= {
            "phones first": float(phones.first),
            "score_behind_best": max(phones.score_behind_best, LOWEST_BEHIND_BEST) / 10,
            "score_per_phone": max(phones.score_per_phone, LOWEST_PER_PHONE),
            "score_between_words": max(phones.score_between_words, LOWEST_BETWEEN_WORDS) / 10,
            "uncertainty_per_phone": min(phones.uncertainty_per_phone, HIGHEST_UNCERTAINTY),
        }
    return known


def candidate_probabilities(
    candidate_set: CandidateSet, weights: Mapping[str, float]
) -> tuple[float, ...]:
    """How likely (0 to 1) each candidate is right, in order; the rest is "none of these".

    weights: by the name of the feature; KeyError for a feature that the candidates lack.
    """
    known = [features(one, candidate_set) for one in candidate_set.candidates]
    likely = probabilities([sum(w * one[name] for name, w in weights.items()) for one in known])
    return tuple(_by_number(candidate_set.candidates, likely))


def _by_number(some: Sequence[Candidate], likely: Sequence[float]) -> Iterator[float]:
    """The probabilities, but between readings that differ in -teen and -ty alone.

    Those have P together: what they have by the features. Of it a reading has

        P * product over its numbers of 1 / (1 + exp(-odds)),

    with the odds of PhoneEvidence.number_odds. What then is of a reading that is no candidate, no
    candidate has.
    """
    together = defaultdict[str, float](float)
    for one, chance in zip(some, likely, strict=True):
        together[in_teens(one.words)] += chance
    for one, chance in zip(some, likely, strict=True):
        odds = one.phone_evidence.number_odds if one.phone_evidence else ()
        if odds:
            yield together[in_teens(one.words)] * math.prod(_logistic(each) for each in odds)
        else:
            yield chance


def _logistic(odds: float) -> float:
    return 1.0 / (1.0 + math.exp(-min(max(odds, -500.0), 500.0)))


def probabilities(scores: list[float]) -> tuple[float, ...]:
    """The probability of each score, beside "none of these" with the score 0."""
    most = max([0.0, *scores])
    shares = [math.exp(score - most) for score in scores]
    total = sum(shares) + math.exp(-most)
    return tuple(share / total for share in shares)
