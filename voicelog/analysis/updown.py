"""Estimates from the order in which levels were walked, beside the fitted curve."""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.threshold import Curve, Walk
from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["UpDown", "disagree", "dixon_mood", "midpoints", "reversals"]


class UpDown(Record):
    """The level answered with the chance 0.5, by `method`, from `of` presses, reversals or reps.

    `error` is its standard error in levels, None where it cannot be told.
    """

    method: str
    level: float
    error: float | None
    of: int


def dixon_mood(
    levels: Sequence[float], answered: Sequence[bool], step: float = 1.0
) -> UpDown | Unknown:
    """Dixon and Mood (1948) for presses in order, one level each, up one step when ignored
    and down one when answered. `Unknown` when the presses were not walked so."""
    raise NotImplementedError


def reversals(
    levels: Sequence[float], answered: Sequence[bool], *, skip: int = 1
) -> UpDown | Unknown:
    """The mean level of the presses at which the direction turned, without the first `skip`
    (Levitt 1971). `Unknown` with fewer than four left."""
    raise NotImplementedError


def midpoints(walks: Sequence[Walk]) -> UpDown | Unknown:
    """The mean of the middles between the level ignored and the level answered, for reps
    each walked up from a level that was ignored (the method of limits). `Unknown` when fewer
    than four reps, or more than one in five, were answered at the first press or not at all."""
    raise NotImplementedError


def disagree(curve: Curve, other: UpDown) -> str | None:
    """A sentence when the other estimate lies outside the curve's interval for the chance
    0.5 by more than its own error, else None."""
    raise NotImplementedError
