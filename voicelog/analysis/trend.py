"""Whether something rises or falls over the sessions, and how fast.

The slope is Theil and Sen's, the median of the slopes between all pairs; the p is Mann and
Kendall's. Neither is moved by one odd day.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["Trend", "trend"]


class Trend(Record):
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

    `Unknown` with fewer than four values, or all at one time. A constant series has slope 0
    and p 1. Raises ValueError for unequal lengths or values that are not finite.
    """
    raise NotImplementedError
