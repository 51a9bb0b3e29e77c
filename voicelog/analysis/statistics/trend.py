"""Whether something rises or falls over the sessions, and how fast.

The slope is Theil and Sen's, the median of the slopes between all pairs of different times:

    slope = median of (v(j) - v(i)) / (t(j) - t(i));

the p is Mann and Kendall's, of the sum of signs over all pairs i < j:

    S = sum of sign(v(j) - v(i)) sign(t(j) - t(i)),   z = (|S| - 1) / sqrt(var S).

Neither is moved by one odd day.

H. B. Mann, Econometrica 13 (1945) 245-259; P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["Trend", "trend"]

MIN_VALUES = 4
"""Values below which no trend is given: three in order come about by chance once in three."""

MAX_EXACT = 30
"""Values up to which p counts all orders, when no two are equal."""


class Trend(FrozenModel):
    """A slope per unit of time with its interval; two-sided p; `s` is Mann-Kendall's S.

    `exact` says whether p comes from all orders of the values or from the normal curve.
    """

    of: int
    slope: float
    low: float
    high: float
    intercept: float
    s: int
    p: float
    exact: bool


def trend(
    times: Sequence[float], values: Sequence[float], confidence: float = 0.95
) -> Trend | Unknown:
    """The trend of `values` (one for each session, say) over `times` (days, say), any order.

    The interval is Sen's, from the normal curve; with so few values that it would reach past
    all slopes, it is the least and the greatest of them.

    `Unknown` with fewer than four values, or all at one time. A constant series has slope 0
    and p 1. Raises ValueError for unequal lengths or values that are not finite.
    """
    if len(times) != len(values):
        raise ValueError(f"{len(times)} times for {len(values)} values")
    t, v = np.array(times, dtype=np.float64), np.array(values, dtype=np.float64)
    if not (np.isfinite(t).all() and np.isfinite(v).all()):
        raise ValueError("a time or a value is not finite")
    of = len(v)
    if of < MIN_VALUES:
        return Unknown(code="too few values for a trend", of=of, needed=MIN_VALUES)
    first, second = np.triu_indices(of, 1)
    apart, rise = t[second] - t[first], v[second] - v[first]
    if not apart.any():
        return Unknown(code="one time only", of=of)
    slopes = np.sort(rise[apart != 0] / apart[apart != 0])
    slope = float(np.median(slopes))
    s = int((np.sign(rise) * np.sign(apart)).sum())
    variance = _variance(times, values)
    exact = of <= MAX_EXACT and len(set(times)) == of and len(set(values)) == of
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * math.sqrt(variance)
    lowest = max(0, round((len(slopes) - reach) / 2) - 1)
    highest = min(len(slopes) - 1, round((len(slopes) + reach) / 2))
    return Trend(
        of=of,
        slope=slope,
        low=min(slope, float(slopes[lowest])),
        high=max(slope, float(slopes[highest])),
        intercept=float(np.median(v) - slope * np.median(t)),
        s=s,
        p=_exact_p(s, of) if exact else _normal_p(s, variance),
        exact=exact,
    )


def _variance(times: Sequence[float], values: Sequence[float]) -> float:
    """The variance of S with no trend, for ties in times and in values (M. G. Kendall, Rank
    Correlation Methods (1948)): without ties n (n - 1) (2 n + 5) / 18."""
    of = len(values)
    x, y = (list(Counter(each).values()) for each in (times, values))

    def falling(counts: Sequence[int], length: int) -> int:
        return sum(math.perm(count, length) for count in counts)

    def weighed(counts: Sequence[int]) -> int:
        return sum(count * (count - 1) * (2 * count + 5) for count in counts)

    whole = weighed([of]) - weighed(x) - weighed(y)
    pairs = falling(x, 2) * falling(y, 2) / (2 * math.perm(of, 2))
    triples = falling(x, 3) * falling(y, 3) / (9 * math.perm(of, 3))
    return whole / 18 + pairs + triples


def _normal_p(s: int, variance: float) -> float:
    """Two-sided, one unit of S nearer to 0 for continuity."""
    if variance <= 0 or s == 0:
        return 1.0
    return 2 * NormalDist().cdf(-(abs(s) - 1) / math.sqrt(variance))


def _exact_p(s: int, of: int) -> float:
    """Two-sided: the share of all orders of `of` different values with S at least as far
    from 0. Orders are counted by their inversions."""
    counts = [1]
    for size in range(2, of + 1):
        counts = [sum(counts[max(0, k - size + 1) : k + 1]) for k in range(len(counts) + size - 1)]
    beyond = (len(counts) - 1 - abs(s)) // 2
    return min(1.0, 2 * sum(counts[: beyond + 1]) / math.factorial(of))
