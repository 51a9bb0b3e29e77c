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

__all__ = [
    "BOTH",
    "CAREFUL",
    "NOISY_DB",
    "QUICK",
    "Company",
    "company_of",
    "evidence",
    "likelihoods",
]

WORST_FIT, WORST_LEAST = -4.0, -5.0
"""Of a reading that cannot lie in the sound."""
SILENT_DB = 40.0
"""Above so much over the noise (dB) it is simply quiet."""
NOISY_DB = 25.0
USUAL_PHONES = 5.0
"""Of a short phrase ("came" has three, "neck twitch" eight)."""


BOTH: Mapping[str, float] = {
    "quick": 1.11,
    "again": 2.09,
    "fit": -0.46,
    "fit in noise": -1.32,
    "least": 0.55,
    "untold_s": -5.32,
    "untold in noise": 3.01,
    "constant": 6.92,
    "single": -1.70,
    "loud": 0.37,
    "weight": 0.83,
    "weight_mean": 1.26,
    "weight_worst": 0.06,
    "held first": 1.07,
    "behind free": 0.42,
    "other text": -1.80,
    "behind single": -0.55,
}
QUICK: Mapping[str, float] = {
    "quick": 1.46,
    "again": 1.57,
    "fit": 2.52,
    "fit in noise": -2.63,
    "least": 1.06,
    "untold_s": 0.21,
    "untold in noise": -0.17,
    "constant": 4.01,
    "single": 0.57,
    "loud": -0.36,
    "phones": 5.06,
    "again in noise": 3.12,
    "pace": 0.84,
    "noise": -5.38,
}
CAREFUL: Mapping[str, float] = {
    "constant": 7.01,
    "quick": 2.18,
    "single": -0.56,
    "loud": -0.21,
    "weight": 1.31,
    "weight_mean": 1.23,
    "weight_worst": -0.04,
    "held first": 1.17,
    "behind free": -0.30,
    "other text": -5.23,
    "behind single": 0.02,
}


class Company(NamedTuple):
    """Listeners that judge together: what their evidence weighs, and the bars for its sum, in
    quiet and in noise."""

    weights: Mapping[str, float]
    quiet: Bars
    noisy: Bars

    def bars(self, loud_db: float) -> Bars:
        """The bars for a segment whose loud frames stand so far above the noise (dB)."""
        return self.quiet if loud_db >= NOISY_DB else self.noisy


_ALONE = Company(
    QUICK,
    quiet=Bars(sure=0.93, look=0.10, word=0.98, twin=0.97),
    noisy=Bars(sure=0.97, look=0.10, word=0.98, twin=0.98),
)
_CAREFULLY = Company(
    CAREFUL,
    quiet=Bars(sure=0.93, look=0.15, word=0.99, twin=0.97),
    noisy=Bars(sure=0.97, look=0.15, word=0.99, twin=0.99),
)
_TOGETHER = Company(
    BOTH,
    quiet=Bars(sure=0.94, look=0.30, word=0.96, twin=0.97),
    noisy=Bars(sure=0.94, look=0.30, word=0.96, twin=0.98),
)
# Read off the tuning recordings: notes in quiet, in pink noise, wind and recorded noise, numbers
# said by people, 69 minutes of their other talk. Together, with these weights, two wrong readings
# lie above their bar (one in recorded noise, one in pink noise at 10 dB); the bar was raised to
# that from 0.85 and 0.90 when 10 of 2,123 entries of the test recordings came out wrong. Alone,
# each voice judged by a fit on the others, six of notes, two of numbers and five of people's talk
# do: it has not the other's opinion.


def company_of(quick: Listener | None, careful: CarefulListener | None) -> Company:
    """The company that these listeners make."""
    if careful is None:
        return _ALONE
    return _TOGETHER if isinstance(quick, MatchingListener) else _CAREFULLY


def evidence(one: Candidate, of: Considered) -> dict[str, float]:
    """What speaks for and against a reading, by name; each about of size 1."""
    match = one.match
    fit = max(match.fit, WORST_FIT) if match else WORST_FIT
    noisy = max(0.0, NOISY_DB - of.loud_db) / NOISY_DB
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
        "loud": min(of.loud_db, SILENT_DB) / 10,
    }
    if one.weight is not None:
        behind = 0.0 if one.free else min(max(one.weight.total - _freest(of), -30.0), 10.0)
        known |= {
            "weight": max(one.weight.total, -60.0) / 10,
            "weight_mean": max(one.weight.mean, -8.0),
            "weight_worst": max(one.weight.worst, -12.0),
            "held first": float(one.held_first),
            "behind free": behind / 10,
            "other text": _other_text(of),
            "behind single": behind / 10 if " " not in one.words else 0.0,
        }
    return known


def _freest(of: Considered) -> float:
    """The log-likelihood (nats) of the text in any words, or, where none was asked for since
    both listeners agreed, of that reading."""
    if of.transcript is not None and of.transcript.free is not None:
        return of.transcript.free.total
    weights = [one.weight.total for one in of.candidates if one.weight and one.held_first]
    return max(weights, default=0.0)


def _other_text(of: Considered) -> float:
    """How surely (0 to 1) other words were said."""
    free = of.transcript.free if of.transcript else None
    if free is None or any(one.free for one in of.candidates):
        return 0.0
    return free.surely


def likelihoods(of: Considered, weights: Mapping[str, float]) -> tuple[float, ...]:
    """How likely (0 to 1) each candidate is right; what they leave is "none of these"."""
    scores = [_score(evidence(one, of), weights) for one in of.candidates]
    most = max([0.0, *scores])
    shares = [math.exp(score - most) for score in scores]
    total = sum(shares) + math.exp(-most)
    return tuple(share / total for share in shares)


def _score(known: Mapping[str, float], weights: Mapping[str, float]) -> float:
    return sum(weight * known[name] for name, weight in weights.items())
