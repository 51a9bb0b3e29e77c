"""Student's t for whole degrees of freedom, by its closed form.

With theta = atan(t / sqrt(df)), the chance of a value between -t and t is, for odd df,

    2 / pi (theta + sin theta (cos theta + 2/3 cos^3 theta + ... )),      df = 1: 2 theta / pi,

and for even df

    sin theta (1 + 1/2 cos^2 theta + (1 3) / (2 4) cos^4 theta + ... )

(M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and 26.7.4;
formulas from memory, held against scipy in the tests).
"""

from __future__ import annotations

import math
from functools import lru_cache

__all__ = ["student_quantile", "student_within"]


def student_within(t: float, df: int) -> float:
    """The chance (0 to 1) that Student's t with `df` degrees of freedom lies between -t and t.

    Raises ValueError for df below 1 or a negative t.
    """
    if df < 1 or t < 0:
        raise ValueError(f"t {t} with {df} degrees of freedom")
    theta = math.atan(t / math.sqrt(df))
    square = math.cos(theta) ** 2
    odd = df % 2 == 1
    term = math.cos(theta) if odd else 1.0
    total = 0.0
    for k in range(3 if odd else 2, df + 1, 2):
        total += term
        term *= square * (k - 1) / k
    if odd:
        return 2 / math.pi * (theta + math.sin(theta) * total)
    return math.sin(theta) * total


@lru_cache(maxsize=256)
def student_quantile(confidence: float, df: int) -> float:
    """The t at which the chance of lying between -t and t is `confidence` (0 to 1, neither).

    Example: `student_quantile(0.95, 10)` is 2.228. Raises ValueError for df below 1 or another
    confidence.
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence {confidence} is not between 0 and 1")
    high = 1.0
    while student_within(high, df) < confidence:
        high *= 2
    low = 0.0
    for _ in range(100):
        middle = (low + high) / 2
        if student_within(middle, df) < confidence:
            low = middle
        else:
            high = middle
    return high
