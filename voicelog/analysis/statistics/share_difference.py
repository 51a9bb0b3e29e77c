"""How far two shares of calls lie apart, the sessions minded and like compared with like.

Calls are compared within strata (one distraction each), and the differences are weighed together
by w = n1 n2 / (n1 + n2), those of Cochran, Mantel and Haenszel. Each share has its interval by
`clustered_share`, l to u, and the interval of d = sum w (p1 - p2) / sum w is put together from
these (the method of variance estimates recovery):

    low  = d - sqrt(sum (w / W)^2 ((p1 - l1)^2 + (u2 - p2)^2)),
    high = d + sqrt(sum (w / W)^2 ((u1 - p1)^2 + (p2 - l2)^2)),   W = sum w

(R. G. Newcombe, Statistics in Medicine 17 (1998) 873-890, method 10; G. Y. Zou and A. Donner,
Statistics in Medicine 27 (2008) 1693-1702; from memory). It needs no large numbers and no share
between 0 and 1. The two groups are taken to be independent: where they are of the same sessions,
the interval is wider than it need be.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple

from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["GroupedAnswer", "ShareDifference", "share_difference"]

MIN_REPS = 6
"""Reps of each group below which nothing is compared (common practice, no source)."""
MIN_SESSIONS = 2
"""Sessions of each group (as before)."""


class GroupedAnswer(NamedTuple):
    """One call: in the first group or the second, in which stratum and session, and yes or no."""

    first: bool
    stratum: Hashable
    session: Hashable
    yes: bool


class ShareDifference(FrozenModel):
    """Two shares (0 to 1), weighed alike over the strata, of `of_first` and `of_second` calls, and
    the interval of the first less the second (-1 to 1)."""

    first: float
    second: float
    of_first: int
    of_second: int
    difference: float
    low: float
    high: float


def share_difference(
    answers: Iterable[GroupedAnswer], confidence: float = 0.95
) -> ShareDifference | Unknown:
    """Compare two groups; strata that have calls of one group only take no part.

    `Unknown` where a group has too few calls or sessions in the strata that both have.
    """
    every = tuple(answers)
    both = _strata(every, first=True) & _strata(every, first=False)
    kept = [one for one in every if one.stratum in both]
    for side in (True, False):
        group = [one for one in kept if one.first is side]
        if len(group) < MIN_REPS or len({one.session for one in group}) < MIN_SESSIONS:
            return Unknown(code="too few to compare", of=len(group), needed=MIN_REPS)
    first = second = weights = below = above = 0.0
    for stratum in sorted(both, key=str):
        one = _share([each for each in kept if each.first and each.stratum == stratum], confidence)
        other = _share(
            [each for each in kept if not each.first and each.stratum == stratum], confidence
        )
        weight = one.of * other.of / (one.of + other.of)
        weights += weight
        first += weight * one.share
        second += weight * other.share
        down = (one.share - one.low) ** 2 + (other.high - other.share) ** 2
        up = (one.high - one.share) ** 2 + (other.share - other.low) ** 2
        below += weight**2 * down
        above += weight**2 * up
    difference = (first - second) / weights
    return ShareDifference(
        first=first / weights,
        second=second / weights,
        of_first=sum(one.first for one in kept),
        of_second=sum(not one.first for one in kept),
        difference=difference,
        low=max(-1.0, difference - math.sqrt(below) / weights),
        high=min(1.0, difference + math.sqrt(above) / weights),
    )


def _strata(answers: Sequence[GroupedAnswer], *, first: bool) -> set[Hashable]:
    return {one.stratum for one in answers if one.first is first}


def _share(answers: Sequence[GroupedAnswer], confidence: float) -> Proportion:
    counts: dict[Hashable, tuple[int, int]] = {}
    for one in answers:
        yes, of = counts.get(one.session, (0, 0))
        counts[one.session] = (yes + one.yes, of + 1)
    share = clustered_share(tuple(counts.values()), confidence)
    if isinstance(share, Unknown):
        raise ValueError("a stratum without calls")
    return share
