"""What one rep says of the level a dog answers, and what many say together.

Presses within a rep are not independent: a dog that ignored 3, 4 and 5 will very likely
ignore them again within the next seconds, and to count each press is to count one moment many
times. So a rep is one observation: on this call there was a level from which on the dog
answers, and it lies between the highest level ignored and the level answered. Over reps these
levels follow a logistic curve F; a rep counts F(answered) - F(ignored), an answer at the first
press F(answered), a rep never answered 1 - F(ignored). For single presses that is plain
logistic regression, and for a rep walked from l up to u

    F(u) - F(l) = F(u) (1 - F(l)) (1 - exp(-b (u - l))),

an event at u, a failure at l, and a factor that knows of the slope b only. The levels where a
rep starts may depend on earlier reps; this likelihood does not mind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from voicelog.analysis.statistics.firth import BinomialRows, Vector, expit

__all__ = ["CensoredLevel", "censored_level", "levels_tried", "rows", "scores"]


class CensoredLevel(NamedTuple):
    """What one rep says of its level: the highest ignored, and the one answered.

    None: no level was ignored (answered at the first press), or none was answered. Levels as
    on the dial. Never both None; ignored is below answered.
    """

    ignored: float | None
    answered: float | None

    @property
    def width(self) -> float | None:
        """Levels between ignored and answered, None when one of them is open."""
        if self.ignored is None or self.answered is None:
            return None
        return self.answered - self.ignored


def censored_level(levels: Sequence[float], answered: bool) -> CensoredLevel | None:
    """The `CensoredLevel` of a rep whose presses were at `levels`, in order, and that was answered
    (complied, or for the level noticed: showed any sign) or not.

    Give the levels up to the answer. The answer is to the highest level pressed: what the
    trainer rolled back to after it says nothing new. None when no level was pressed.
    """
    if not levels:
        return None
    top = max(levels)
    if not answered:
        return CensoredLevel(top, None)
    before = [level for level in levels[: levels.index(top)] if level < top]
    return CensoredLevel(max(before, default=None), top)


def levels_tried(walks: Sequence[CensoredLevel]) -> list[float]:
    """The levels that the walks speak of, ascending, once each.

    Raises ValueError for a walk that says nothing, or was answered no higher than ignored.
    """
    for walk in walks:
        if walk == (None, None):
            raise ValueError("a rep without any level is no walk")
        if walk.width is not None and walk.width <= 0:
            raise ValueError(f"answered at {walk.answered}, not above {walk.ignored}, ignored")
    return sorted({level for walk in walks for level in walk if level is not None})


def rows(walks: Sequence[CensoredLevel], middle: float) -> BinomialRows:
    """The walks as rows to fit, intercept and slope, with levels counted from `middle`: a row for
    each level that was answered or ignored, a width for each distance walked."""
    events = Counter(walk.answered for walk in walks if walk.answered is not None)
    failures = Counter(walk.ignored for walk in walks if walk.ignored is not None)
    pairs = Counter(walk.width for walk in walks if walk.width is not None)
    levels, widths = sorted(events | failures), sorted(pairs)
    return BinomialRows(
        design=np.array([(1.0, level - middle) for level in levels]),
        events=np.array([events[level] for level in levels], dtype=np.float64),
        trials=np.array([events[level] + failures[level] for level in levels], dtype=np.float64),
        widths=np.array(widths, dtype=np.float64),
        pairs=np.array([pairs[width] for width in widths], dtype=np.float64),
    )


def scores(walks: Sequence[CensoredLevel], middle: float, beta: Vector) -> Vector:
    """How each walk pulls at intercept and slope: the gradient of its log-likelihood at `beta`
    (intercept, slope), of shape (walks, 2)."""
    a, b = beta
    up = np.array([np.nan if w.answered is None else w.answered - middle for w in walks])
    down = np.array([np.nan if w.ignored is None else w.ignored - middle for w in walks])
    width = up - down
    raising, lowering = expit(-a - b * up), -expit(a + b * down)
    parts = np.array(
        [
            (raising, raising * up),
            (lowering, lowering * down),
            (0 * width, width / np.expm1(b * width)),
        ]
    )
    pulls: Vector = np.nansum(parts, axis=0).T
    return pulls
