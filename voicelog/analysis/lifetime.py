"""Time to turn and to arrive, where an ignored cue is not a slow one: it is censored.

Kaplan-Meier curves, their median and restricted mean, and the log-rank comparison. All
durations are seconds (s).
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["Comparison", "Survival", "Time", "compare", "median", "restricted_mean", "survival"]


class Survival(Record):
    """The share of reps still unanswered after each time at which one was answered.

    Parallel tuples; `low` and `high` are the log-log interval (Kalbfleisch and Prentice),
    `error` Greenwood's standard error. `of` reps, `events` of them answered.
    """

    of: int
    events: int
    times: tuple[float, ...]
    at_risk: tuple[int, ...]
    answered: tuple[int, ...]
    share: tuple[float, ...]
    error: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    longest: float


class Time(Record):
    """A time in s with its interval; `high` is None when the reps do not bound it."""

    value: float
    low: float
    high: float | None
    of: int
    until: float | None = None
    """The time to which a restricted mean is restricted."""


class Comparison(Record):
    """The log-rank comparison of groups: observed and expected answers, chi-square, p."""

    observed: tuple[float, ...]
    expected: tuple[float, ...]
    chi_square: float
    degrees: int
    p: float


def survival(
    durations: Sequence[float], observed: Sequence[bool], confidence: float = 0.95
) -> Survival | Unknown:
    """Kaplan-Meier. `observed` is False where the dog had not answered by then (censored).

    `Unknown` without reps, and when none was answered. Raises ValueError for unequal lengths
    and durations that are negative or not finite.
    """
    raise NotImplementedError


def median(curve: Survival) -> Time | Unknown:
    """The first time by which half are answered, with the interval of Brookmeyer and Crowley
    on the log-log scale. `Unknown` when fewer than half were answered: the median is not the
    last time."""
    raise NotImplementedError


def restricted_mean(
    curve: Survival, until: float | None = None, confidence: float = 0.95
) -> Time | Unknown:
    """The mean time when each is counted for `until` seconds at most (default: the longest
    time of the curve). `Unknown` when `until` is beyond the longest time."""
    raise NotImplementedError


def compare(
    groups: Sequence[tuple[Sequence[float], Sequence[bool]]],
) -> Comparison | Unknown:
    """Log-rank over two or more groups, each its durations and whether observed.

    `Unknown` with fewer than two groups that have reps, or no answer in any.
    """
    raise NotImplementedError
