"""When something changed: the tabular CUSUM.

It adds up how far each value lies above (or below) where it used to be, less a slack, and
never goes below 0; when the sum passes a limit the values have moved, and they began to move
where the sum last left 0. Where it used to be is not known but estimated, which makes plain
sums cry wolf: with eight values to start from, one dog in four that never changed would be
called changed within twenty sessions. So each value is measured against all before it, and
the surprise weighed by how many those were (the self-starting CUSUM).

E. S. Page, Biometrika 41 (1954) 100-115; D. M. Hawkins, The Statistician 36 (1987) 299-316.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist, fmean, stdev
from typing import Literal

from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["Cusum", "cusum", "self_starting_cusum"]

SLACK, LIMIT = 0.5, 5.0
"""Of standard deviations: looks for a move of one, and lets some 460 values pass between false
alarms (Montgomery, Introduction to Statistical Quality Control; from memory)."""


class Cusum(FrozenModel):
    """Both sums after each value (>= 0, in units of the values), and the first signal if there is
    one.

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


def cusum(values: Sequence[float], target: float, slack: float, limit: float) -> Cusum:
    """The tabular CUSUM of values in order of time:

        above(n) = max(0, above(n-1) + value(n) - target - slack),
        below(n) = max(0, below(n-1) + target - slack - value(n)),

    both 0 before the first value; the signal is the first n at which one of them is over `limit`.
    All four are in units of the values. Raises ValueError for a negative slack, a limit that is
    not positive, or values that are not finite.
    """
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


def self_starting_cusum(values: Sequence[float], baseline: int = 8) -> Cusum | Unknown:
    """The self-starting CUSUM of the values after the first `baseline` of them, each against
    all before it:

        t(n) = (value(n) - m) / (s sqrt(1 + 1 / (n - 1)))

    with the mean m and the standard deviation s of the n - 1 values before is a Student's t of
    n - 2 degrees when nothing changed; summed is the normal value of the same tail.

    Indexes count from the first value of all. The sums are in standard deviations; `target` is
    the mean of the values before the change, or of all without one. `Unknown` with fewer than
    baseline + 1 values, or when the first do not differ at all. Raises ValueError for a
    baseline below 3 and as `cusum` does.
    """
    if baseline < 3:
        raise ValueError(f"a baseline of {baseline} is too short to tell a spread")
    of = len(values)
    if of <= baseline:
        return Unknown(code="too few values for a change", of=of, needed=baseline + 1)
    if len(set(values[:baseline])) == 1:
        return Unknown(code="first values equal", of=of, count=baseline, value=values[0])
    surprise = [0.0] * baseline + [
        _standardized_residual(values[:at], values[at]) for at in range(baseline, of)
    ]
    found = cusum(surprise, 0.0, SLACK, LIMIT)
    before = values if found.began is None else values[: found.began]
    return found.model_copy(update={"target": fmean(before)})


def _standardized_residual(before: Sequence[float], value: float) -> float:
    """How far `value` lies from those before it, as a standard normal value: what it is when
    all come from one normal curve of unknown middle and spread."""
    of = len(before)
    t = (value - fmean(before)) / (stdev(before) * math.sqrt(1 + 1 / of))
    tail = _t_tail(abs(t), of - 1)
    return math.copysign(-NormalDist().inv_cdf(max(tail, 1e-12)), t)


def _t_tail(t: float, degrees: int) -> float:
    """The chance that Student's t of so many degrees is above `t`, for t >= 0 (the finite
    sums of Abramowitz and Stegun, 26.7.3 and 26.7.4)."""
    angle = math.atan2(t, math.sqrt(degrees))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = degrees % 2
    term, total = (cosine, 0.0) if odd else (1.0, 0.0)
    for k in range(1 + odd, degrees, 2):
        total += term
        term *= cosine * cosine * k / (k + 1)
    inside = 2 / math.pi * (angle + sine * total) if odd else sine * total
    return max(0.0, (1 - inside) / 2)


def _sums(steps: Sequence[float]) -> tuple[float, ...]:
    """Each step added to the sum so far, which never falls below 0."""
    sums, sum_ = [], 0.0
    for step in steps:
        sum_ = max(0.0, sum_ + step)
        sums.append(sum_)
    return tuple(sums)
