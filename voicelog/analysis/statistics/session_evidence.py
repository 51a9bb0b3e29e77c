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
between 0.36 and 0.84). The poor dog is given the spread 0.2, the widest that the bound is held for;
the good dog 0.1. With both, a session's ratio is 1 at most on the average for every dog at 0.6 or
below and every spread up to 0.2, for any number of calls (a test computes it), and it is a
martingale call by call for the dog at 0.6 and 0.2, so that leaving off after a good call earns
nothing there.

A. Wald, Ann. Math. Stat. 16 (1945) 117-186; E. S. Page, Biometrika 41 (1954) 100-115; J. G.
Skellam, J. R. Stat. Soc. B 10 (1948) 257-261 (the beta-binomial law); S. R. Howard and others, Ann.
Stat. 49 (2021) 1055-1080 (tests that may be looked at at any time). All from memory. The two rates,
the spreads and the 100 are ours: `python -m tests.bench.evidence readiness` shows what they do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

__all__ = ["FULL", "GOOD", "POOR", "CallRate", "chance_of_full", "running_points", "session_points"]


class CallRate(NamedTuple):
    """How a dog answers: in `rate` of its calls (above 0, below 1), with the intraclass
    correlation `spread` between the calls of one session (0 to below 1)."""

    rate: float
    spread: float


GOOD = CallRate(0.85, 0.1)
"""The dog that the evidence is for: somewhat better than the usual mark of 8 in 10."""

POOR = CallRate(0.6, 0.2)
"""The dog that must not be called ready, on sessions as different as we guard against."""

FULL = 100.0
"""Points that are enough: a ratio of 100 to 1. Page's sum begins anew many times in 20 sessions, so
the chance to get there is more than 1 in 100 for a poor dog; `chance_of_full` has it."""

_POINTS_PER_NAT = FULL / math.log(100)
_GRID = 0.5
"""Points between two states of the walk whose chance is computed."""


@lru_cache(maxsize=4096)
def session_points(met: int, of: int) -> float:
    """The points of a session in which `met` of `of` calls were answered:

        FULL / ln 100 * ln [P(met, of | GOOD) / P(met, of | POOR)],

    below 0 where a poor dog is likelier. P is the beta-binomial chance of that many of so many; a
    session without calls has 0. Raises ValueError unless 0 <= met <= of.

    Example: of ten calls, ten are worth 30 points, nine 18, eight 7, seven -4 and five -29.
    """
    if not 0 <= met <= of:
        raise ValueError(f"{met} of {of} is no share")
    return _POINTS_PER_NAT * (_log_chance(met, of, GOOD) - _log_chance(met, of, POOR))


def running_points(counts: Sequence[tuple[int, int]]) -> tuple[float, ...]:
    """The points after each session, `counts` being (met, of) in order of time:

        points(n) = min(FULL, max(0, points(n-1) + session_points(n))),

    with 0 before the first. Each is from 0 to FULL. Raises ValueError as `session_points` does.
    """
    found: list[float] = []
    points = 0.0
    for met, of in counts:
        points = min(FULL, max(0.0, points + session_points(met, of)))
        found.append(points)
    return tuple(found)


@lru_cache(maxsize=64)
def chance_of_full(of: int, sessions: int, dog: CallRate = POOR) -> float:
    """The chance (0 to 1) that a dog has full points after at least one of so many sessions of `of`
    calls each.

    The points before FULL are a Markov chain; it is walked on a grid of half a point, each
    session's points rounded up, so that the result errs to the high side. Raises ValueError for no
    call or no session.
    """
    if of < 1 or sessions < 1:
        raise ValueError(f"{sessions} sessions of {of} calls")
    steps = [
        (math.ceil(session_points(met, of) / _GRID - 1e-9), math.exp(_log_ways(met, of, dog)))
        for met in range(of + 1)
    ]
    top = round(FULL / _GRID)
    at = [1.0] + [0.0] * (top - 1)
    full = 0.0
    for _ in range(sessions):
        then = [0.0] * top
        for points, chance in enumerate(at):
            if chance:
                for step, likely in steps:
                    to = max(0, points + step)
                    if to >= top:
                        full += chance * likely
                    else:
                        then[to] += chance * likely
        at = then
    return min(1.0, full)


def _log_chance(met: int, of: int, dog: CallRate) -> float:
    """The log of the chance of one order of so many met and so many not (nats)."""
    missed = of - met
    if dog.spread == 0:
        return met * math.log(dog.rate) + missed * math.log1p(-dog.rate)
    weight = (1 - dog.spread) / dog.spread
    alpha, beta = dog.rate * weight, (1 - dog.rate) * weight
    return _log_beta(met + alpha, missed + beta) - _log_beta(alpha, beta)


def _log_ways(met: int, of: int, dog: CallRate) -> float:
    return math.log(math.comb(of, met)) + _log_chance(met, of, dog)


def _log_beta(alpha: float, beta: float) -> float:
    return math.lgamma(alpha) + math.lgamma(beta) - math.lgamma(alpha + beta)
