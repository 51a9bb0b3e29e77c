"""How likely each reading of a segment is right, from all that speaks for and against it.

A conditional logit (McFadden, in Frontiers in Econometrics, 1974): each reading has a score,
a weighted sum of its evidence; "none of these" has the score 0; and the likelihoods are the
exponentials of the scores, divided by their sum. Readings are so held against each other
and against other talk at once. The weights were fitted on the tuning narrations and talk
(tests/bench/calibrate.py), one set for each company of listeners.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from voicelog.hearing.candidates import Candidate, Considered
from voicelog.hearing.careful import CarefulListener
from voicelog.hearing.listener import Bars, Listener, MatchingListener

__all__ = ["BOTH", "CAREFUL", "QUICK", "Company", "company_of", "evidence", "likelihoods"]

WORST_FIT, WORST_LEAST = -4.0, -5.0
"""Of a reading that cannot lie in the sound."""
SILENT_DB = 40.0
"""Above so much over the noise (dB) it is simply quiet."""
NOISY_DB = 25.0


BOTH: Mapping[str, float] = {
    "quick": 0.49,
    "again": 2.90,
    "fit": -0.07,
    "fit in noise": -1.69,
    "least": 0.78,
    "untold_s": -5.49,
    "untold in noise": 3.80,
    "constant": 6.55,
    "single": -1.41,
    "loud": 0.91,
    "weight": 1.26,
    "weight_mean": 1.58,
    "weight_worst": -0.26,
    "held first": 1.78,
    "behind free": 0.62,
}
QUICK: Mapping[str, float] = {
    "quick": 0.90,
    "again": 2.86,
    "fit": 1.87,
    "fit in noise": -1.07,
    "least": 1.19,
    "untold_s": -0.48,
    "untold in noise": -9.74,
    "constant": 6.93,
    "single": -1.57,
    "loud": -0.12,
}
CAREFUL: Mapping[str, float] = {
    "constant": 3.58,
    "quick": 2.12,
    "single": -0.99,
    "loud": 0.09,
    "weight": 1.57,
    "weight_mean": 1.06,
    "weight_worst": -0.24,
    "held first": 1.57,
    "behind free": 0.58,
}


class Company(NamedTuple):
    """Listeners that judge together: what their evidence weighs, and the bars for its sum."""

    weights: Mapping[str, float]
    bars: Bars


def company_of(quick: Listener | None, careful: CarefulListener | None) -> Company:
    """The company that these listeners make.

    The bars lie where, on the tuning recordings and each voice judged by a fit on the others,
    next to nothing wrong was left: with both listeners none of 360 notes in quiet and one in
    noise; the quick one alone is let through more.
    """
    if careful is None:
        return Company(QUICK, Bars(sure=0.75, look=0.10, word=0.90, twin=0.98))
    bars = Bars(sure=0.95, look=0.12, word=0.97, twin=0.98)
    return Company(BOTH if isinstance(quick, MatchingListener) else CAREFUL, bars)


def evidence(one: Candidate, of: Considered) -> dict[str, float]:
    """What speaks for and against a reading, by name; each about of size 1."""
    match = one.match
    fit = max(match.fit, WORST_FIT) if match else WORST_FIT
    noisy = max(0.0, NOISY_DB - of.loud_db) / NOISY_DB
    known = {
        "constant": 1.0,
        "quick": float(one.quick),
        "again": float(one.again),
        "fit": fit,
        "fit in noise": fit * noisy,
        "least": max(match.least, WORST_LEAST) if match else WORST_LEAST,
        "untold_s": one.untold_s,
        "untold in noise": one.untold_s * noisy,
        "single": float(" " not in one.words),
        "loud": min(of.loud_db, SILENT_DB) / 10,
    }
    if one.weight is not None:
        behind = 0.0 if one.free else min(max(one.weight.total - _freest(of), -30.0), 10.0)
        known |= {
            "weight": max(one.weight.total, -60.0) / 10,
            "weight_mean": max(one.weight.mean, -4.0),
            "weight_worst": max(one.weight.worst, -8.0),
            "held first": float(one.held_first),
            "behind free": behind / 10,
        }
    return known


def _freest(of: Considered) -> float:
    """The log-likelihood (nats) of the text in any words, or, where none was asked for since
    both listeners agreed, of that reading."""
    if of.transcript is not None and of.transcript.free is not None:
        return of.transcript.free.total
    weights = [one.weight.total for one in of.candidates if one.weight and one.held_first]
    return max(weights, default=0.0)


def likelihoods(of: Considered, weights: Mapping[str, float]) -> tuple[float, ...]:
    """How likely (0 to 1) each candidate is right; what they leave is "none of these"."""
    scores = [_score(evidence(one, of), weights) for one in of.candidates]
    most = max([0.0, *scores])
    shares = [math.exp(score - most) for score in scores]
    total = sum(shares) + math.exp(-most)
    return tuple(share / total for share in shares)


def _score(known: Mapping[str, float], weights: Mapping[str, float]) -> float:
    return sum(weight * known[name] for name, weight in weights.items())
