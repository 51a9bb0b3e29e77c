"""Evidence over sessions that a dog is good, bounded over every look: points.

A share of calls looked at after each session is passed by luck sooner or later, and dogs have good
and bad days, so that ten calls of one day say less than ten calls of ten days. Here each session is
weighed once: how much likelier are its calls from a dog that comes at 85 in 100 than from one that
comes at 60 in 100, good and bad days allowed for in both? A run of such ratios multiplied is Wald's
sequential test of the one dog against the other; begun anew whenever it falls below 1, it is Page's
cumulative sum, so that a slow start is not held against a dog for ever. It is shown in *points*:
0 is no evidence, 100 is a ratio of 100 to 1, and more is not counted, so that one bad session after
that is seen at once.

How a dog varies from session to session is the beta-binomial law: its chance in a session is drawn
from a beta law with mean `rate`, and two calls of one session are alike with the intraclass
correlation `spread` (0: all sessions alike; at 0.2 and a rate of 0.6, two sessions in three lie
between 0.36 and 0.84, a standard deviation of 0.22). The poor dog is given the spread 0.2, the
widest that the bound is held for; the good dog 0.1.

Good days come in runs, too: a dog that is rested, or worked in an easy place, is so for some days.
Then a second good day is no second witness. So a session that earns points is weighed again with a
quarter of the calls of the session before it (`CARRY`) put to the beta law of both dogs as if they
had been seen: after a good day a poor dog, too, is expected to do well, and one more good day earns
less. It never earns more for what came before, and a bad day costs what it costs alone, so nothing
is gained by a bad day. A sum that is begun anew takes its first session as it is.

The mean of a session's ratio is 1 at most for every dog at 0.6 or below and every spread up to 0.2
whose days do not hang together, for any number of calls (a test computes it). That the bound of one
in twenty holds over 20 looks for days in runs, too (logit-normal, or days of two kinds; a
correlation of 0.5 from one session to the next), is shown by simulation alone. It does not hold
where the good days of such runs are perfect.

A. Wald, Ann. Math. Stat. 16 (1945) 117-186; E. S. Page, Biometrika 41 (1954) 100-115; J. G.
Skellam, J. R. Stat. Soc. B 10 (1948) 257-261 (the beta-binomial law); S. R. Howard and others, Ann.
Stat. 49 (2021) 1055-1080 (tests that may be looked at at any time); J. G. Ibrahim and M.-H. Chen,
Stat. Sci. 15 (2000) 46-60 (earlier data that count in part: the power prior). All from memory. The
two rates, the spreads, the quarter and the 100 are ours: `python -m tests.bench.evidence readiness`
shows what they do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

__all__ = [
    "CARRY",
    "FULL",
    "FULL_RATIO",
    "GOOD",
    "LUCK_IN_TEN",
    "LUCK_IN_TWENTY",
    "POOR",
    "CallRate",
    "Earned",
    "running_points",
    "session_points",
]


class CallRate(NamedTuple):
    """How a dog answers: in `rate` of its calls (above 0, below 1), with the intraclass
    correlation `spread` (above 0, below 1) between the calls of one session."""

    rate: float
    spread: float


GOOD = CallRate(0.85, 0.1)
"""The dog that the evidence is for: somewhat better than the usual mark of 8 in 10."""

POOR = CallRate(0.6, 0.2)
"""The dog that must not be called ready, on sessions as different as we guard against."""

CARRY = 0.25
"""How much of a call of the session before counts as one of today's dog."""

FULL = 100.0
"""Points that are enough: `FULL_RATIO` to 1."""

FULL_RATIO = 100.0
"""The ratio that is enough. Page's sum begins anew many times in 20 sessions, so the chance to get
there is more than 1 in 100 for a poor dog: `LUCK_IN_TWENTY`."""

LUCK_IN_TWENTY = 0.05
LUCK_IN_TEN = 0.015
"""The chance (0 to 1), rounded up, that the dog at six in ten is ready at one of 20 or 10 looks, on
sessions that differ by a spread of 0.2 and come in runs (a correlation of 0.5 from one to the
next), with the number of calls that is worst: by simulation, `tests/bench/readiness_looks.py`."""


class Earned(NamedTuple):
    """What a session earned (points, below 0 where it took some away), and the `total` after it
    (0 to FULL)."""

    points: float
    total: float


@lru_cache(maxsize=4096)
def session_points(met: int, of: int, before: tuple[int, int] = (0, 0)) -> float:
    """The points of a session in which `met` of `of` calls were answered, after one in which
    `before` (met, of) were; (0, 0): there was none.

        alone = points((0, 0)), and where that is above 0: min(alone, max(0, points(before)));
        points(b) = FULL / ln FULL_RATIO * ln [P(met, of | GOOD, b) / P(met, of | POOR, b)],

    below 0 where a poor dog is likelier. P is the beta-binomial chance of that many of so many, its
    beta law having `CARRY` times the calls of b added; a session without calls has 0. Raises
    ValueError unless 0 <= met <= of, in both.

    Example: of ten calls, ten are worth 30 points, nine 18, eight 7, seven -4 and five -29; after
    ten of ten, ten are worth 17 and nine 7.
    """
    for some, many in ((met, of), before):
        if not 0 <= some <= many:
            raise ValueError(f"{some} of {many} is no share")
    alone = _points(met, of, (0, 0))
    return alone if alone <= 0 else min(alone, max(0.0, _points(met, of, before)))


def running_points(counts: Sequence[tuple[int, int]]) -> tuple[Earned, ...]:
    """What each session earned and the total after it, `counts` being (met, of) in order of time:

        total(n) = min(FULL, max(0, total(n-1) + session_points(n, after n-1), session_points(n))),

    with 0 before the first. Raises ValueError as `session_points` does.
    """
    found: list[Earned] = []
    total, before = 0.0, (0, 0)
    for met, of in counts:
        earned = max(session_points(met, of, before), session_points(met, of) - total)
        total = min(FULL, max(0.0, total + earned))
        found.append(Earned(earned, total))
        before = met, of
    return tuple(found)


def _points(met: int, of: int, before: tuple[int, int]) -> float:
    ratio = _log_chance(met, of, GOOD, before) - _log_chance(met, of, POOR, before)
    return FULL / math.log(FULL_RATIO) * ratio


def _log_chance(met: int, of: int, dog: CallRate, before: tuple[int, int]) -> float:
    """The log of the chance of one order of so many met and so many not (nats)."""
    weight = (1 - dog.spread) / dog.spread
    alpha = dog.rate * weight + CARRY * before[0]
    beta = (1 - dog.rate) * weight + CARRY * (before[1] - before[0])
    return _log_beta(met + alpha, of - met + beta) - _log_beta(alpha, beta)


def _log_beta(alpha: float, beta: float) -> float:
    return math.lgamma(alpha) + math.lgamma(beta) - math.lgamma(alpha + beta)
