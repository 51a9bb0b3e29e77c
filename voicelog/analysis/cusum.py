"""When something changed: the tabular CUSUM.

It adds up how far each value lies above (or below) where it used to be, less a slack, and
never goes below 0; when the sum passes a limit the values have moved, and they began to move
where the sum last left 0.

E. S. Page, Biometrika 41 (1954) 100-115; D. C. Montgomery, Introduction to Statistical Quality
Control.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, stdev
from typing import Literal

from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["Cusum", "change", "cusum"]

SLACK, LIMIT = 0.5, 5.0
"""Of standard deviations: looks for a move of one, and lets some 460 values pass between false
alarms when the target and the deviation are known (Montgomery). From a short baseline they are
not, and false alarms come sooner."""


class Cusum(Record):
    """Both sums after each value, and the first signal if there is one.

    `signal` and `began` are indexes into the values: where the sum passed the limit, and
    where it left 0 for that.
    """

    target: float
    slack: float
    limit: float
    above: tuple[float, ...]
    below: tuple[float, ...]
    signal: int | None
    began: int | None
    direction: Literal["up", "down"] | None

    def sentence(self, what: str, when: Sequence[str]) -> str:
        """One sentence: `what` changed or did not; `when` is the date of each value."""
        if self.signal is None or self.began is None:
            return f"{what} shows no lasting change from {self.target:.3g}."
        way = "above" if self.direction == "up" else "below"
        return (
            f"{what} has run {way} the earlier {self.target:.3g} since {when[self.began]}; by"
            f" {when[self.signal]} that was more than chance makes likely."
        )


def cusum(values: Sequence[float], target: float, slack: float, limit: float) -> Cusum:
    """The tabular CUSUM of values in order of time. Raises ValueError for a negative slack, a
    limit that is not positive, or values that are not finite."""
    if slack < 0 or limit <= 0:
        raise ValueError(f"a slack of {slack} and a limit of {limit}")
    if not all(map(math.isfinite, (*values, target, slack, limit))):
        raise ValueError("a value is not finite")
    above = _sums([value - target - slack for value in values])
    below = _sums([target - slack - value for value in values])
    passed = [at for at, sums in enumerate(zip(above, below, strict=True)) if max(sums) > limit]
    signal = passed[0] if passed else None
    began: int | None = None
    direction: Literal["up", "down"] | None = None
    if signal is not None:
        direction = "up" if above[signal] > limit else "down"
        sums = above if direction == "up" else below
        began = next((at + 1 for at in range(signal, -1, -1) if sums[at] == 0), 0)
    return Cusum(
        target=target,
        slack=slack,
        limit=limit,
        above=above,
        below=below,
        signal=signal,
        began=began,
        direction=direction,
    )


def change(values: Sequence[float], baseline: int = 8) -> Cusum | Unknown:
    """The CUSUM of the values after the first `baseline` of them, against those.

    Indexes count from the first value of all. Target: their mean; slack half and limit five
    of their standard deviations. `Unknown` with fewer than baseline + 1 values, or when the
    first do not differ at all. Raises ValueError for a baseline below 2 and as `cusum` does.
    """
    if baseline < 2:
        raise ValueError(f"a baseline of {baseline} has no spread")
    of = len(values)
    if of <= baseline:
        return Unknown(
            why=f"{of} value{'s' * (of != 1)}; a change can be told from {baseline + 1} on, the"
            f" first {baseline} being what it is compared with.",
            of=of,
        )
    first = values[:baseline]
    spread = stdev(first)
    if spread == 0:
        return Unknown(
            why=f"The first {baseline} values are all {first[0]:g}, so what is chance and what is"
            " change cannot be told apart.",
            of=of,
        )
    target = fmean(first)
    found = cusum(values[baseline:], target, SLACK * spread, LIMIT * spread)
    none = (0.0,) * baseline
    return found.model_copy(
        update={
            "above": none + found.above,
            "below": none + found.below,
            "signal": None if found.signal is None else found.signal + baseline,
            "began": None if found.began is None else found.began + baseline,
        }
    )


def _sums(steps: Sequence[float]) -> tuple[float, ...]:
    """Each step added to the sum so far, which never falls below 0."""
    sums, sum_ = [], 0.0
    for step in steps:
        sum_ = max(0.0, sum_ + step)
        sums.append(sum_)
    return tuple(sums)
