"""At which level a dog answers: one curve through its reps, the rep being the unit.

Presses within a rep are not independent: a dog that ignored 3, 4 and 5 will very likely
ignore them again within the next seconds, so counting each press would count one dog's
moment many times. Here a rep is one observation: on this call, with all that was going on,
there was a level from which on the dog answers, and it lies between the highest level
ignored and the level answered. Over reps these levels follow a logistic curve, so a rep
counts F(answered) - F(ignored), an answer at the first press F(answered), a rep never answered
1 - F(ignored). For single presses that is plain logistic regression, and for a walk

    F(u) - F(l) = F(u) (1 - F(l)) (1 - exp(-b (u - l))),

an event at u, a failure at l, and a factor that knows of the slope b only. Where the next
rep starts may depend on earlier ones; the likelihood does not mind.

The fit carries Firth's penalty, the intervals are profiles of the penalised likelihood.
Nothing is told beyond the levels tried but on which side of them it lies.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np

from voicelog.analysis.firth import Fit, Likelihood, Rows, Vector, crossing
from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["ENOUGH", "Curve", "Level", "Walk", "fit_levels", "walked"]

ENOUGH = 10
"""Reps below which no level is given."""


class Walk(NamedTuple):
    """What one rep says of its level: the highest ignored, and the one answered.

    None: no level was ignored (answered at the first press), or none was answered. Levels as
    on the dial. Never both None; ignored is below answered.
    """

    ignored: float | None
    answered: float | None


def walked(levels: Sequence[float], answered: bool) -> Walk | None:
    """The `Walk` of a rep whose presses were at `levels`, in order, and that ended answered
    (complied, or for the level noticed: showed any sign) or not.

    Give the levels up to the answer. The answer is to the highest level pressed: what the
    trainer rolled back to after it says nothing new. None when no level was pressed.
    """
    if not levels:
        return None
    top = max(levels)
    if not answered:
        return Walk(top, None)
    before = [level for level in levels[: levels.index(top)] if level < top]
    return Walk(max(before, default=None), top)


class Level(Record):
    """The level at which the dog answers with the chance `chance`, with its interval.

    `value` is None when it lies beyond the levels tried, on the side that `side` says. `low`
    is None when that end lies below the levels tried, `high` when that end lies above them;
    what is beyond the levels tried on the other side is cut there.
    """

    chance: float
    value: float | None
    side: Literal["within", "above", "below"]
    low: float | None
    high: float | None
    lowest_tried: float
    highest_tried: float

    @property
    def words(self) -> str:
        """ "6.2 (4.8 to above 9)", "above 9 (from 7.1)", "below 2 (up to 3.3)"."""
        beneath, over = f"below {self.lowest_tried:g}", f"above {self.highest_tried:g}"
        low = beneath if self.low is None else f"{self.low:.1f}"
        high = over if self.high is None else f"{self.high:.1f}"
        if self.side == "above":
            return f"{over} (from {low})"
        if self.side == "below":
            return f"{beneath} (up to {high})"
        return f"{self.value:.1f} ({low} to {high})"


class Curve(Record):
    """The fitted curve: the chance of an answer at level x is 1 / (1 + exp(-(a + b x))).

    `of` reps, of which `answered` were answered; `levels` in the order of the chances asked.
    """

    of: int
    answered: int
    intercept: float
    slope: float
    levels: tuple[Level, ...]

    def chance(self, level: float) -> float:
        """The fitted chance (0 to 1) of an answer at `level`."""
        eta = self.intercept + self.slope * level
        return 1 / (1 + math.exp(-max(-700.0, min(700.0, eta))))


def fit_levels(
    walks: Sequence[Walk],
    chances: Sequence[float] = (0.5, 0.8),
    *,
    confidence: float = 0.95,
    enough: int = ENOUGH,
) -> Curve | Unknown:
    """Fit the curve to the walks of one dog under one set of conditions, in any order.

    `Unknown` for no reps, fewer than `enough`, all answered at the first press, none
    answered, one level only, or answers that do not grow more likely with the level. Raises
    ValueError for a walk that says nothing or was answered no higher than it was ignored.
    """
    of = len(walks)
    why = _why_not(walks, enough)
    if why:
        return Unknown(why=why, of=of)
    tried = sorted({level for walk in walks for level in walk if level is not None})
    middle = (tried[0] + tried[-1]) / 2
    likelihood = Likelihood(_rows(walks, middle))
    slope = 4 / (tried[-1] - tried[0])
    best = likelihood.maximum(np.array([0.0, slope]))
    if best is None or best.beta[1] <= 1e-6 * slope:
        return Unknown(
            why=f"In {of} reps the dog did not answer more often at higher levels, so the level"
            " it answers cannot be told from them.",
            of=of,
        )
    room = NormalDist().inv_cdf(0.5 + confidence / 2)
    levels = tuple(
        _level(likelihood, best, chance, room, middle, tried[0], tried[-1]) for chance in chances
    )
    a, b = map(float, best.beta)
    answered = sum(walk.answered is not None for walk in walks)
    return Curve(of=of, answered=answered, intercept=a - b * middle, slope=b, levels=levels)


def _why_not(walks: Sequence[Walk], enough: int) -> str:
    """Why these walks bear no curve, or ""."""
    of = len(walks)
    for walk in walks:
        if walk == (None, None):
            raise ValueError("a rep without any level is no walk")
        if None not in walk and walk.ignored >= walk.answered:  # type: ignore[operator]
            raise ValueError(f"answered at {walk.answered}, not above {walk.ignored}, ignored")
    if of == 0:
        return "No rep with a level yet."
    if of < enough:
        return f"Not enough yet: {of} rep{'s' * (of > 1)} with a level, {enough} are needed."
    tried = sorted({level for walk in walks for level in walk if level is not None})
    low, high = tried[0], tried[-1]
    if all(walk.answered is None for walk in walks):
        return f"None of {of} reps was answered, up to level {high:g}: it lies above that."
    if all(walk.ignored is None for walk in walks):
        return (
            f"All {of} reps were answered at the first press, down to level {low:g}: it lies at"
            " or below that, and nothing lower was tried."
        )
    if low == high:
        answered = sum(walk.answered is not None for walk in walks)
        return (
            f"Only level {low:g} was tried: {answered} of {of} reps answered; a curve needs more"
            " than one level."
        )
    return ""


def _rows(walks: Sequence[Walk], middle: float) -> Rows:
    """The walks as rows for the fit, with levels counted from `middle`."""
    events = Counter(walk.answered for walk in walks if walk.answered is not None)
    failures = Counter(walk.ignored for walk in walks if walk.ignored is not None)
    pairs = Counter(walk.answered - walk.ignored for walk in walks if None not in walk)  # type: ignore[operator]
    at = sorted(events | failures)
    return Rows(
        design=np.array([(1.0, level - middle) for level in at]),
        events=np.array([float(events[level]) for level in at]),
        trials=np.array([float(events[level] + failures[level]) for level in at]),
        widths=np.array(sorted(pairs), dtype=np.float64),
        pairs=np.array([float(pairs[width]) for width in sorted(pairs)]),
    )


def _level(
    likelihood: Likelihood,
    best: Fit,
    chance: float,
    room: float,
    middle: float,
    lowest: float,
    highest: float,
) -> Level:
    """One level with its interval: where the root of the deviance stays within `room`."""
    logit = math.log(chance / (1 - chance))
    a, b = map(float, best.beta)
    value = (logit - a) / b
    beta = best.beta

    def beyond(level: float) -> float:
        """How much the root of the deviance exceeds its room when `level` is the one."""
        nonlocal beta
        through = np.array([logit, 0.0])
        along = np.array([-level, 1.0])
        fit = likelihood.maximum(through + along * beta[1], along[:, np.newaxis], 1e-6)
        if fit is None:
            return math.inf
        beta = fit.beta
        return math.sqrt(max(0.0, 2 * (best.value - fit.value))) - room

    def end(bound: float) -> float | None:
        """Where the interval ends between the estimate and `bound`, None if beyond it."""
        nonlocal beta
        beta = best.beta
        at_bound = beyond(bound)
        if at_bound <= 0:
            return None
        beta = best.beta
        return crossing(beyond, (value, -room), (bound, at_bound))

    lower, upper = lowest - middle, highest - middle
    low = end(lower) if value > lower else None
    high = end(upper) if value < upper else None
    if low is not None:
        low = min(low, upper) + middle
    if high is not None:
        high = max(high, lower) + middle
    side: Literal["within", "above", "below"] = (
        "above" if value > upper else "below" if value < lower else "within"
    )
    return Level(
        chance=chance,
        value=value + middle if side == "within" else None,
        side=side,
        low=low,
        high=high,
        lowest_tried=lowest,
        highest_tried=highest,
    )
