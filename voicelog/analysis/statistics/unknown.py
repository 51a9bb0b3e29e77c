"""What stands where a number would, when there is no honest number.

Every estimate of this room returns its own record or an `Unknown`; none returns a number
that its reps do not bear. The words for each code are made in `voicelog.report.wording`.
"""

from __future__ import annotations

from typing import Literal

from voicelog.model import FrozenModel

__all__ = ["Unknown", "UnknownCode"]

UnknownCode = Literal[
    # proportion
    "no rep",
    # logistic_curve
    "no level",
    "too few levels",
    "none answered",
    "all answered at the first press",
    "one level only",
    "no rise with level",
    # up_down
    "never turned",
    "not by one step",
    "not up and down",
    "too few reversals",
    "too few walked up",
    "no curve",
    # survival
    "no timed rep answered",
    "no timed rep",
    "median beyond",
    "mean beyond",
    "all at zero",
    "one group only",
    "groups apart in time",
    # trend and cusum
    "too few values for a trend",
    "one time only",
    "too few values for a change",
    "first values equal",
    # estimating_equations
    "too few sessions",
    "parted",
    # the analysis above the methods
    "no baseline",
    "no call since baseline",
    "not worked out",
    # share_difference
    "too few to compare",
    # the questions
    "too few presses",
    "one only",
    "none yet",
    # the change of calls
    "too few calls",
    "button unsaid",
    "nearly all alike",
]


class Unknown(FrozenModel):
    """Why there is no number: a code, and the numbers that its words need.

    `of` is how many reps, values or presses there were, and `needed` how many there must be at
    least. `count` is the part of them that the code is about (answered, walked up, skipped, first
    values), `value` a level on the dial, a time (s) or a value of the series, `until` a time (s).
    What a code does not speak of stays 0.
    """

    code: UnknownCode
    of: int = 0
    needed: int = 0
    count: int = 0
    value: float = 0.0
    until: float = 0.0
