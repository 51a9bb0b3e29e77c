"""Shares of reps with their Wilson intervals.

A share of few reps has a wide interval; the interval is never left out.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["Proportion", "wilson_interval"]


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
