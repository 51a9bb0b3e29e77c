"""The level from the order in which levels were walked, beside the fitted curve.

These estimates need no curve: a walk that goes up when ignored and down when answered stays
around the level answered half the time. They say nothing of other chances, and each is given
only for presses that were walked as it asks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from statistics import fmean, stdev
from typing import Literal

from voicelog.analysis.statistics.censored_level import CensoredLevel
from voicelog.analysis.statistics.logistic_curve import LevelEstimate, LogisticCurve
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["UpDownEstimate", "disagrees", "dixon_mood", "level_at_half", "midpoints", "reversals"]

MIN_FOR_MEAN = 4
"""Reversals, or reps walked up, below which no mean is given."""


class UpDownEstimate(FrozenModel):
    """The level answered with the chance 0.5, by `method`, from `of` presses, reversals or reps.

    `error` is its standard error in levels, None where it cannot be told.
    """

    method: Literal["up and down (Dixon and Mood)", "reversals (Levitt)", "middles of the walks"]
    level: float
    error: float | None
    of: int


def dixon_mood(
    levels: Sequence[float], answered: Sequence[bool], step: float = 1.0
) -> UpDownEstimate | Unknown:
    """Dixon and Mood's estimate for presses in order, one level each, up one step when ignored
    and down one when answered (W. J. Dixon and A. M. Mood, J. Am. Stat. Assoc. 43 (1948)
    109-126): over the rarer of answers and misses, counted in steps i from the lowest of them,

        level = lowest + step (mean i -+ 1/2),   M = mean i^2 - (mean i)^2,
        error = 1.62 step (M + 0.029) / sqrt(how many),

    -1/2 for answers and +1/2 for misses. `error` is None where their spread cannot be trusted
    (M below 0.3).

    `Unknown` when the presses were not walked so, or all were answered or all ignored. Raises
    ValueError for unequal lengths or a step that is not positive.
    """
    of = _paired(levels, answered)
    if step <= 0:
        raise ValueError(f"step {step} is not positive")
    events = sum(map(bool, answered))
    if not 0 < events < of:
        return Unknown(code="never turned", of=of, count=events)
    if _followed(levels, answered, step) < 1:
        return Unknown(code="not by one step", of=of)
    rarer = events <= of - events
    kept = [level for level, yes in zip(levels, answered, strict=True) if bool(yes) == rarer]
    lowest = min(kept)
    steps = [(level - lowest) / step for level in kept]
    mean = fmean(steps)
    level = lowest + step * (mean - 0.5 if rarer else mean + 0.5)
    return UpDownEstimate(
        method="up and down (Dixon and Mood)",
        level=level,
        error=_error(steps, mean, step),
        of=of,
    )


def _error(steps: Sequence[float], mean: float, step: float) -> float | None:
    """The standard error of the level: their spread over the root of the count, without their
    factor G, which is near 1 for steps between half and twice the spread."""
    m = fmean(each * each for each in steps) - mean * mean
    if m < 0.3:
        return None
    return 1.62 * step * (m + 0.029) / math.sqrt(len(steps))


def reversals(
    levels: Sequence[float], answered: Sequence[bool], *, skip: int = 1
) -> UpDownEstimate | Unknown:
    """The mean level of the presses at which the direction turned, without the first `skip`; the
    error is that of a mean (H. Levitt, J. Acoust. Soc. Am. 49 (1971) 467-477).

    `Unknown` with fewer than four left, or when more than one in ten presses was not followed
    by one step up (ignored) or down (answered), the step being the smallest that was made:
    reps that all begin at the lowest level turn there too. Raises ValueError for unequal
    lengths.
    """
    of = _paired(levels, answered)
    step = min((abs(b - a) for a, b in pairwise(levels) if a != b), default=0.0)
    if not step or _followed(levels, answered, step) < 0.9:
        return Unknown(code="not up and down", of=of)
    turns = [
        level
        for level, (before, now) in zip(levels[1:], pairwise(answered), strict=True)
        if bool(before) != bool(now)
    ][skip:]
    if len(turns) < MIN_FOR_MEAN:
        return Unknown(code="too few reversals", of=len(turns), needed=MIN_FOR_MEAN, count=skip)
    return UpDownEstimate(
        method="reversals (Levitt)",
        level=fmean(turns),
        error=stdev(turns) / math.sqrt(len(turns)),
        of=len(turns),
    )


def midpoints(walks: Sequence[CensoredLevel]) -> UpDownEstimate | Unknown:
    """The mean of the middles (ignored + answered) / 2 for reps each walked up from a level that
    was ignored (the method of limits); the error is that of a mean.

    `Unknown` when fewer than four reps, or more than one in five, were answered at the first
    press or not at all: the mean of the others would be off.
    """
    of = len(walks)
    middles = [
        (walk.ignored + walk.answered) / 2
        for walk in walks
        if walk.ignored is not None and walk.answered is not None
    ]
    if len(middles) < MIN_FOR_MEAN or 5 * len(middles) < 4 * of:
        return Unknown(code="too few walked up", of=of, needed=MIN_FOR_MEAN, count=len(middles))
    return UpDownEstimate(
        method="middles of the walks",
        level=fmean(middles),
        error=stdev(middles) / math.sqrt(len(middles)),
        of=len(middles),
    )


def disagrees(curve: LogisticCurve, other: UpDownEstimate) -> bool:
    """Whether the other estimate lies outside the curve's interval for the chance 0.5 by more
    than its own error; False when the curve gives no such level."""
    level = level_at_half(curve)
    if level is None:
        return False
    low = level.lowest_tried if level.low is None else level.low
    high = level.highest_tried if level.high is None else level.high
    error = other.error or 0.0
    return not low - error <= other.level <= high + error


def level_at_half(curve: LogisticCurve) -> LevelEstimate | None:
    """The curve's level for the chance 0.5, where it was asked for."""
    return next((each for each in curve.levels if math.isclose(each.chance, 0.5)), None)


def _followed(levels: Sequence[float], answered: Sequence[bool], step: float) -> float:
    """The share of presses that one step up (ignored) or down (answered) followed."""
    moves = [
        math.isclose(there - here, -step if yes else step, abs_tol=1e-9 * step)
        for (here, there), yes in zip(pairwise(levels), answered, strict=False)
    ]
    return fmean(moves) if moves else 0.0


def _paired(levels: Sequence[float], answered: Sequence[bool]) -> int:
    """How many presses; raises ValueError for unequal lengths."""
    if len(levels) != len(answered):
        raise ValueError(f"{len(levels)} levels for {len(answered)} answers")
    return len(levels)
