"""Shares of reps with their Wilson intervals, and how often luck alone passes a criterion.

A share of few reps has a wide interval; the interval is never left out.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["Proportion", "run_probability", "wilson_interval"]


class Proportion(FrozenModel):
    """`count` of `of` reps, as a share from 0 to 1 with its Wilson interval."""

    count: int
    of: int
    share: float
    low: float
    high: float


def wilson_interval(count: int, of: int, confidence: float = 0.95) -> Proportion | Unknown:
    """The share `count / of` (0 to 1) with the Wilson score interval, without continuity
    correction:

        (count + z^2 / 2 -+ z sqrt(z^2 / 4 + count (1 - count / of))) / (of + z^2),

    z being the normal quantile of (1 + confidence) / 2 (E. B. Wilson, J. Am. Stat. Assoc. 22
    (1927) 209-212; R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872).

    `Unknown` for no reps at all. Raises ValueError unless 0 <= count <= of and
    0 < confidence < 1.

    Example: `wilson_interval(8, 10)` is 0.8, from 0.49 to 0.94.
    """
    if not 0 <= count <= of:
        raise ValueError(f"{count} of {of} is no share")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0 and 1")
    if of == 0:
        return Unknown(code="no rep")
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = count / of
    middle = count + z * z / 2
    reach = z * math.sqrt(z * z / 4 + count * (1 - share))
    return Proportion(
        count=count,
        of=of,
        share=share,
        low=0.0 if count == 0 else min(share, (middle - reach) / (of + z * z)),
        high=1.0 if count == of else max(share, (middle + reach) / (of + z * z)),
    )


def run_probability(
    passes: int, of: int, sessions: int = 1, *, rate: float = 0.5, within: int | None = None
) -> float:
    """The chance (0 to 1) that a dog which answers each rep with the chance `rate`, and has
    learned nothing, still does at least `passes` of `of` reps in each of `sessions` sessions
    in a row, some time within `within` sessions (by default just those).

    One session passes with the chance q = sum over k >= passes of C(of, k) rate^k
    (1 - rate)^(of - k); within more sessions, the length of the run so far is a Markov chain that
    goes on with q and starts anew with 1 - q.

    `run_probability(8, 10, 2)` is 0.003: two such sessions are hardly luck at a rate of one half;
    `run_probability(8, 10, 2, within=10)` is what looking after each of ten sessions makes of it.
    Raises ValueError for counts below 1, passes above `of`, within below sessions, or a rate
    outside 0 to 1.
    """
    within = sessions if within is None else within
    if not 1 <= passes <= of:
        raise ValueError(f"{passes} of {of} is no criterion")
    if not 1 <= sessions <= within:
        raise ValueError(f"{sessions} sessions in a row cannot be within {within}")
    if not 0 <= rate <= 1:
        raise ValueError(f"rate {rate} is not between 0 and 1")
    one = math.fsum(
        math.comb(of, k) * rate**k * (1 - rate) ** (of - k) for k in range(passes, of + 1)
    )
    # running[k]: no run yet, and the last k sessions passed
    running = [1.0] + [0.0] * (sessions - 1)
    done = 0.0
    for _ in range(within):
        done += running[-1] * one
        running = [math.fsum(running) * (1 - one), *(each * one for each in running[:-1])]
    return min(1.0, done)
