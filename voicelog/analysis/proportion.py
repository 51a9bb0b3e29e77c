"""Shares of reps with their Wilson intervals, and how often luck alone passes a criterion.

A share of few reps has a wide interval; the interval is never left out.
"""

from __future__ import annotations

from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["Share", "chance_of_run", "wilson"]


class Share(Record):
    """`count` of `of` reps, as a share from 0 to 1 with its Wilson interval."""

    count: int
    of: int
    share: float
    low: float
    high: float


def wilson(count: int, of: int, confidence: float = 0.95) -> Share | Unknown:
    """The share `count / of` with the Wilson score interval, without continuity correction.

    `Unknown` for no reps at all. Raises ValueError unless 0 <= count <= of and
    0 < confidence < 1.
    """
    raise NotImplementedError


def chance_of_run(
    passes: int, of: int, sessions: int = 1, *, rate: float = 0.5, within: int | None = None
) -> float:
    """The chance (0 to 1) that a dog which answers each rep with the chance `rate`, and has
    learned nothing, still does at least `passes` of `of` reps in each of `sessions` sessions
    in a row, some time within `within` sessions (by default just those).

    chance_of_run(8, 10, 2) is 0.003: two such sessions are hardly luck at a rate of one half;
    chance_of_run(8, 10, 2, within=10) is what looking after each of ten sessions makes of it.
    Raises ValueError for counts below 1, passes above `of`, within below sessions, or a rate
    outside 0 to 1.
    """
    raise NotImplementedError
