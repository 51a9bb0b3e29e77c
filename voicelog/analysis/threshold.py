"""At which level a dog answers: one curve through its reps, the rep being the unit.

(the reasoning goes here)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

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
    raise NotImplementedError


class Level(Record):
    """The level at which the dog answers with the chance `chance`, with its interval.

    `value` is None when it lies beyond the levels tried, on the side that `side` says. `low`
    or `high` is None when that end of the interval lies beyond the levels tried.
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
        """ "6.2 (4.8 to above 9)"; "above 9 (from 7.1)"; "below 2 (up to 3.3)"."""
        raise NotImplementedError


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
        raise NotImplementedError


def fit_levels(
    walks: Sequence[Walk],
    chances: Sequence[float] = (0.5, 0.8),
    *,
    confidence: float = 0.95,
    enough: int = ENOUGH,
) -> Curve | Unknown:
    """Fit the curve to the walks of one dog under one set of conditions, in any order.

    `Unknown` for no reps, fewer than `enough`, all answered at the first press, none
    answered, one level only, or answers that do not grow more likely with the level.
    """
    raise NotImplementedError
