"""At which level a dog answers: one curve through its reps, and two levels read from it.

The rep is the unit, as `censored_level.py` says. What is estimated is the level by which, walked
up a step at a time, the dog has answered in half (or four fifths) of its reps:

    P(answered by x) = 1 / (1 + exp(-(a + b x))),    x_p = (log(p / (1 - p)) - a) / b.

The fit carries Firth's penalty (`firth.py`) and the intervals are profiles of the penalised
likelihood: the levels at which twice its drop is at most the square of the normal quantile. Where
sessions differ more than their reps would make them, the intervals grow by as much (the
variance of sums over sessions, in the manner of K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986)
13-22). Beyond the levels tried nothing is said but on which side of them the level lies.

`tests/bench/levels.py` walks invented dogs with known levels and counts how often the
intervals hold them.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np

from voicelog.analysis.statistics.censored_level import (
    CensoredLevel,
    censored_level,
    levels_tried,
    rows,
    scores,
)
from voicelog.analysis.statistics.firth import FirthFit, Likelihood, Vector, find_root
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = [
    "MIN_REPS_FOR_CURVE",
    "CensoredLevel",
    "LevelEstimate",
    "LevelPoint",
    "LogisticCurve",
    "censored_level",
    "fit_level",
    "fit_levels",
    "most_chance",
]

_GENTLER = 30
"""Halvings of a slope so steep that the likelihood has underflowed, until it has one."""

MIN_REPS_FOR_CURVE = 10
"""Reps below which no level is given; with 12, the intervals hold what they promise."""


class LevelEstimate(FrozenModel):
    """The level at which the dog answers with the chance `chance`, with its interval.

    `value` is None when it lies beyond the levels tried, on the side that `side` says. `low`
    is None when that end lies below the levels tried, `high` when that end lies above them.
    `widened` is how many times wider the interval is than with sessions all alike.
    """

    chance: float
    value: float | None
    side: Literal["within", "above", "below"]
    low: float | None
    high: float | None
    lowest_tried: float
    highest_tried: float
    widened: float = 1.0


class LevelPoint(NamedTuple):
    """The level at which the dog answers with some chance, without an interval: `value` and `side`
    as in `LevelEstimate`, `lowest_tried` on the dial."""

    value: float | None
    side: Literal["within", "above", "below"]
    lowest_tried: float


class LogisticCurve(FrozenModel):
    """The fitted curve: the chance of an answer at level x is 1 / (1 + exp(-(a + b x))).

    `of` reps, of which `answered` were answered; `levels` in the order of the chances asked.
    """

    of: int
    answered: int
    intercept: float
    slope: float
    levels: tuple[LevelEstimate, ...]

    def chance(self, level: float) -> float:
        """The fitted chance (0 to 1) that the dog has answered by `level`."""
        eta = self.intercept + self.slope * level
        return 1 / (1 + math.exp(-max(-700.0, min(700.0, eta))))


def fit_levels(
    walks: Sequence[CensoredLevel],
    chances: Sequence[float] = (0.5, 0.8),
    *,
    session_digests: Sequence[Hashable] = (),
    confidence: float = 0.95,
    enough: int = MIN_REPS_FOR_CURVE,
) -> LogisticCurve | Unknown:
    """Fit the curve to the walks of one dog under one set of conditions, in any order.

    `chances` are between 0 and 1, and so is `confidence`; levels are as on the dial.
    `session_digests` names the session of each walk; without it sessions are taken to be alike.

    `Unknown` for no reps, fewer than `enough`, all answered at the first press, none
    answered, one level only, or answers that do not grow more likely with the level. Raises
    ValueError for a walk that says nothing or was answered no higher than it was ignored, and
    when `session_digests` is given for other than each walk.
    """
    if session_digests and len(session_digests) != len(walks):
        raise ValueError(f"{len(session_digests)} sessions for {len(walks)} walks")
    fitted = _fitted(walks, enough)
    if isinstance(fitted, Unknown):
        return fitted
    tried, middle, likelihood, best = fitted
    pulls = scores(walks, middle, best.beta)
    room = NormalDist().inv_cdf(0.5 + confidence / 2)
    levels = []
    for chance in chances:
        wider = _widening(best, pulls, _level_at(best, chance), session_digests)
        ends = _interval(likelihood, best, chance, room * wider, tried[0] - middle)
        levels.append(_within_tried(_level_at(best, chance), chance, ends, middle, tried, wider))
    a, b = map(float, best.beta)
    return LogisticCurve(
        of=len(walks),
        answered=sum(walk.answered is not None for walk in walks),
        intercept=a - b * middle,
        slope=b,
        levels=tuple(_no_finer_than_the_steps(walks, level) for level in levels),
    )


def fit_level(
    walks: Sequence[CensoredLevel], chance: float, *, enough: int = MIN_REPS_FOR_CURVE
) -> LevelPoint | Unknown:
    """The level of one chance that `fit_levels` gives for the same walks, without its interval,
    which is most of the work. Arguments and errors as there."""
    fitted = _fitted(walks, enough)
    if isinstance(fitted, Unknown):
        return fitted
    tried = fitted.tried
    side, value = _placed(_level_at(fitted.best, chance) + fitted.middle, tried)
    return LevelPoint(value, side, tried[0])


_TILTS = 0.0, 0.5, 0.8, 1.0
"""How far the weights of `most_chance` fall from the lowest level to the highest."""


def most_chance(trials: Mapping[float, int], events: Mapping[float, int], level: float) -> float:
    """What the rising curve through single presses has at a level, at most; without fitting it.

    At the maximum of the penalised likelihood its gradient is 0 (`firth.Likelihood.evaluate`), so
    for any weights w(x) = c + d x that are 0 or more at every level x tried

        sum n_x p_x w_x = sum (y_x + h_x (1/2 - p_x)) w_x <= sum y_x w_x + (w' + w'') / 2,

    with n_x trials of which y_x were events: no h is over 1, together they are 2, and w', w'' are
    the two largest weights. A rising curve has at least its chance at `level` from there on, so
    that chance times the sum of n_x w_x over x >= level is at most the left side. Of some weights
    the least bound is taken; above the levels tried it is infinite.

    Args:
        trials: how often each level was pressed, once at least.
        events: how often it was with the event; a level that is not here had none.
    """
    lowest, highest = min(trials), max(trials)
    least = math.inf
    for tilt in _TILTS if lowest < highest else ():
        fall = tilt / (highest - lowest)
        weights = {x: 1 - fall * (x - lowest) for x in trials}
        over = sum(n * weights[x] for x, n in trials.items() if x >= level)
        most = sum(events.get(x, 0) * weight for x, weight in weights.items())
        most += sum(sorted(weights.values())[-2:]) / 2
        least = min(least, most / over if over > 0 else math.inf)
    return least


class _Fitted(NamedTuple):
    """The levels tried, the middle from which they are counted, and the curve at its best."""

    tried: list[float]
    middle: float
    likelihood: Likelihood
    best: FirthFit


def _fitted(walks: Sequence[CensoredLevel], enough: int) -> _Fitted | Unknown:
    tried = levels_tried(walks)
    if unknown := _unfit(walks, tried, enough):
        return unknown
    found = _best(frozenset(Counter(walks).items()))
    return Unknown(code="no rise with level", of=len(walks)) if found is None else found


@lru_cache(maxsize=64)
def _best(counts: frozenset[tuple[CensoredLevel, int]]) -> _Fitted | None:
    """The curve of walks that came so many times each; None where it does not rise. Kept, since
    one paper asks for the ceiling of the same reps more than once."""
    walks = list(Counter(dict(counts)).elements())
    tried = levels_tried(walks)
    middle = (tried[0] + tried[-1]) / 2
    likelihood = Likelihood(rows(walks, middle))
    gentle = 4 / (tried[-1] - tried[0])
    best = likelihood.maximum(np.array([0.0, gentle]))
    if best is None or best.beta[1] <= 1e-6 * gentle:
        return None
    return _Fitted(tried, middle, likelihood, best)


def _unfit(walks: Sequence[CensoredLevel], tried: Sequence[float], enough: int) -> Unknown | None:
    """Why these walks bear no curve, or None."""
    of = len(walks)
    if of == 0:
        return Unknown(code="no level")
    if of < enough:
        return Unknown(code="too few levels", of=of, needed=enough)
    answered = sum(walk.answered is not None for walk in walks)
    if answered == 0:
        return Unknown(code="none answered", of=of, value=tried[-1])
    if all(walk.ignored is None for walk in walks):
        return Unknown(code="all answered at the first press", of=of, value=tried[0])
    if len(tried) == 1:
        return Unknown(code="one level only", of=of, count=answered, value=tried[0])
    return None


def _level_at(best: FirthFit, chance: float) -> float:
    """The level, from the middle, at which the curve has this chance."""
    a, b = map(float, best.beta)
    return (math.log(chance / (1 - chance)) - a) / b


def _widening(
    best: FirthFit, pulls: Vector, level: float, session_digests: Sequence[Hashable]
) -> float:
    """How many times wider the sessions make the interval, at least 1.

    pulls: the scores of the reps at the maximum, d log L_i / d (a, b), shape (reps, 2). level:
    x_p in levels, from the middle; its gradient is d x_p / d (a, b) = (-1, -x_p) / b. With
    u_i = (score of rep i) I^-1 (gradient), how far that rep pulls the level, less their mean,
    and S sessions, the ratio of variances is (Liang and Zeger 1986, with the usual correction
    for few clusters)

        S / (S - 1) * sum over sessions of (sum of their u_i)^2 / sum over reps of u_i^2,

    and its root the factor. Sessions all alike, or fewer than two, give 1.
    """
    of = len(set(session_digests))
    if of < 2:
        return 1.0
    toward = np.array([-1.0, -level]) / best.beta[1]
    pull = pulls @ np.linalg.solve(best.information, toward)
    pull -= pull.mean()
    number = {
        session_digest: at for at, session_digest in enumerate(dict.fromkeys(session_digests))
    }
    sums = np.bincount([number[session_digest] for session_digest in session_digests], weights=pull)
    alone = pull.var() * len(pull)
    return math.sqrt(max(1.0, float(sums @ sums / (of - 1) * of / alone))) if alone else 1.0


def _interval(
    likelihood: Likelihood, best: FirthFit, chance: float, room: float, lowest: float
) -> tuple[float | None, float | None]:
    """Where the root of the deviance leaves `room` below and above the estimate; None for an
    end beyond the levels tried, which reach from `lowest` to `-lowest`."""
    logit, value = math.log(chance / (1 - chance)), _level_at(best, chance)
    beta = best.beta

    def beyond(level: float) -> float:
        """How much the root of the deviance exceeds its room when `level` is the one."""
        nonlocal beta
        along = np.array([-level, 1.0])
        slope, fit = beta[1], None
        for _ in range(_GENTLER):
            start = np.array([logit, 0.0]) + along * slope
            fit = likelihood.maximum(start, along[:, np.newaxis], 1e-4)
            if fit is not None:
                break
            slope /= 2
        if fit is None:  # then nothing speaks against that level: the end stays open
            return -room
        beta = fit.beta
        return math.sqrt(max(0.0, 2 * (best.value - fit.value))) - room

    def end(bound: float) -> float | None:
        nonlocal beta
        beta = best.beta
        at_bound = beyond(bound)
        if at_bound <= 0:
            return None
        beta = best.beta
        return find_root(beyond, (value, -room), (bound, at_bound))

    return (
        end(lowest) if value > lowest else None,
        end(-lowest) if value < -lowest else None,
    )


def _within_tried(
    from_middle: float,
    chance: float,
    ends: tuple[float | None, float | None],
    middle: float,
    tried: Sequence[float],
    widened: float,
) -> LevelEstimate:
    """The level as it is told: nothing beyond the levels tried."""
    lowest, highest = tried[0], tried[-1]
    low, high = (None if end is None else end + middle for end in ends)
    side, value = _placed(from_middle + middle, tried)
    return LevelEstimate(
        chance=chance,
        value=value,
        side=side,
        low=None if low is None else min(low, highest),
        high=None if high is None else max(high, lowest),
        lowest_tried=lowest,
        highest_tried=highest,
        widened=widened,
    )


def _placed(
    level: float, tried: Sequence[float]
) -> tuple[Literal["within", "above", "below"], float | None]:
    """On which side of the levels tried a level lies, and the level where it lies within them."""
    if level > tried[-1]:
        return "above", None
    return ("below", None) if level < tried[0] else ("within", level)


def _no_finer_than_the_steps(walks: Sequence[CensoredLevel], level: LevelEstimate) -> LevelEstimate:
    """The level with an interval over all of the step in which every rep turned, if there is
    such a step: where in it the dog turns, no rep can say."""
    under = float(max(walk.ignored for walk in walks if walk.ignored is not None))
    over = float(min(walk.answered for walk in walks if walk.answered is not None))
    if under >= over:
        return level
    return level.model_copy(
        update={
            "low": None if level.low is None else min(level.low, under),
            "high": None if level.high is None else max(level.high, over),
        }
    )
