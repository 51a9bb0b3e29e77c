"""A share of reps whose sessions differ: Wilson's interval with fewer reps than there are.

Reps of one session are alike (the dog, the weather, the place), so ten of one session say less than
ten of ten. The reps count for

    n / deff,   deff = max(1 + (m - 1) r,  K / (K - 1) sum (y_k - p n_k)^2 / (n p (1 - p))),

with n reps in K sessions, y_k of n_k yes in session k, p their share and m = sum n_k^2 / n, the
mean size of a rep's session. The second term is the design effect that the sessions show (L. Kish,
Survey Sampling (1965); Wilson's interval with it: N. Dean and M. Pagano, J. Surv. Stat. Methodol. 3
(2015) 484-503; both from memory); with few sessions it comes out too small by luck, so r is taken
to be at least 0.1 (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.unknown import Unknown

__all__ = ["LEAST_CORRELATION", "clustered_share"]

LEAST_CORRELATION = 0.1
"""Two reps of one session are taken to be at least so much alike."""


def clustered_share(
    counts: Sequence[tuple[int, int]], confidence: float = 0.95
) -> Proportion | Unknown:
    """The share of yes with its interval; `counts` are yes and reps of each session.

    `Unknown` for no reps. Raises ValueError for counts that are none, and for another confidence
    than between 0 and 1.
    """
    if any(not 0 <= yes <= of for yes, of in counts):
        raise ValueError(f"{counts} are no shares")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0 and 1")
    told = [(yes, of) for yes, of in counts if of]
    count, reps = sum(yes for yes, _ in told), sum(of for _, of in told)
    if reps == 0:
        return Unknown(code="no rep")
    share = count / reps
    size = reps / _design_effect(told, share, reps)
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    middle = (share + z * z / (2 * size)) / (1 + z * z / size)
    reach = z * math.sqrt(share * (1 - share) / size + (z / (2 * size)) ** 2) / (1 + z * z / size)
    return Proportion(
        count=count,
        of=reps,
        share=share,
        low=0.0 if count == 0 else max(0.0, min(share, middle - reach)),
        high=1.0 if count == reps else min(1.0, max(share, middle + reach)),
    )


def _design_effect(told: Sequence[tuple[int, int]], share: float, reps: int) -> float:
    mean_size = sum(of * of for _, of in told) / reps
    least = 1 + (mean_size - 1) * LEAST_CORRELATION
    sessions = len(told)
    if sessions < 2 or share in (0.0, 1.0):
        return least
    apart = sum((yes - share * of) ** 2 for yes, of in told) * sessions / (sessions - 1)
    return max(least, apart / (reps * share * (1 - share)))
