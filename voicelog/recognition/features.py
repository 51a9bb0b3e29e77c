"""How likely each reading of a segment is right, from all that speaks for and against it.

A conditional logit (McFadden, in Frontiers in Econometrics, 1974): each reading has a score,
a weighted sum of its evidence; "none of these" has the score 0; and the likelihoods are the
exponentials of the scores, divided by their sum. Readings are so held against each other
and against other talk at once. What the evidence weighs depends on who listens (companies.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from voicelog.recognition.candidates import Candidate, CandidateSet
from voicelog.recognition.noise_reduction import NOISY_DB

__all__ = ["candidate_probabilities", "features"]

WORST_FIT, WORST_LEAST = -4.0, -5.0
"""Of a reading that cannot lie in the sound."""
SILENT_DB = 40.0
"""Above so much over the noise (dB) it is simply quiet."""
USUAL_PHONES = 5.0
"""Of a short phrase ("came" has three, "neck twitch" eight)."""


def features(one: Candidate, of: CandidateSet) -> dict[str, float]:
    """What speaks for and against a reading, by name; each about of size 1."""
    match = one.match
    fit = max(match.fit, WORST_FIT) if match else WORST_FIT
    noisy = max(0.0, NOISY_DB - of.above_noise_db) / NOISY_DB
    known = {
        "constant": 1.0,
        "quick": float(one.quick),
        "again": one.again,
        "again in noise": one.again * noisy,
        "pace": math.log(max(match.pace, 1.0)) if match else 0.0,
        "noise": noisy,
        "fit": fit,
        "fit in noise": fit * noisy,
        "least": max(match.least, WORST_LEAST) if match else WORST_LEAST,
        "untold_s": one.untold_s,
        "untold in noise": one.untold_s * noisy,
        "single": float(" " not in one.words),
        "phones": math.log(one.phones / USUAL_PHONES),
        "loud": min(of.above_noise_db, SILENT_DB) / 10,
    }
    if one.in_phones is not None:
        known |= {
            "phones first": float(one.in_phones.first),
            "phones behind": max(one.in_phones.behind, -30.0) / 10,
            "phones short": max(one.in_phones.short, -4.0),
            "phones between": max(one.in_phones.between, -20.0) / 10,
        }
    return known


def candidate_probabilities(of: CandidateSet, weights: Mapping[str, float]) -> tuple[float, ...]:
    """How likely (0 to 1) each candidate is right; what they leave is "none of these"."""
    scores = [_score(features(one, of), weights) for one in of.candidates]
    most = max([0.0, *scores])
    shares = [math.exp(score - most) for score in scores]
    total = sum(shares) + math.exp(-most)
    return tuple(share / total for share in shares)


def _score(known: Mapping[str, float], weights: Mapping[str, float]) -> float:
    return sum(weight * known[name] for name, weight in weights.items())
