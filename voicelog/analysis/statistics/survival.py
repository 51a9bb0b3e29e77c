"""Time to turn and to arrive, where an ignored cue is not a slow one: it is censored.

Kaplan-Meier curves, their median and restricted mean, and the log-rank comparison. All
durations are seconds (s), all shares 0 to 1.

E. L. Kaplan and P. Meier, J. Am. Stat. Assoc. 53 (1958) 457-481; J. D. Kalbfleisch and R. L.
Prentice, The Statistical Analysis of Failure Time Data (1980); R. Brookmeyer and J. Crowley,
Biometrics 38 (1982) 29-41; N. Mantel, Cancer Chemotherapy Reports 50 (1966) 163-170.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate, pairwise
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = [
    "LogRankTest",
    "Survival",
    "TimeEstimate",
    "log_rank_test",
    "median",
    "restricted_mean",
    "survival",
]

_HALF = 0.5 + 1e-12
"""One half, with room for the last bit of a product of shares."""


class Survival(FrozenModel):
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


class TimeEstimate(FrozenModel):
    """A time in s with its interval; `high` is None when the reps do not bound it."""

    value: float
    low: float
    high: float | None
    of: int
    until: float | None = None
    """The time to which a restricted mean is restricted."""


class LogRankTest(FrozenModel):
    """The log-rank comparison of groups: observed and expected answers, chi-square, p."""

    observed: tuple[float, ...]
    expected: tuple[float, ...]
    chi_square: float
    degrees: int
    p: float


def survival(
    durations: Sequence[float], observed: Sequence[bool], confidence: float = 0.95
) -> Survival | Unknown:
    """Kaplan-Meier: after the times t at which d(t) of the n(t) reps still under way were answered,

        share = product of (1 - d / n),   error = share sqrt(sum of d / (n (n - d)))  (Greenwood),
        low, high = share^exp(+-z sqrt(sum of d / (n (n - d))) / log(share)).

    `durations` and `observed` are of equal length, one a rep; `observed` is False where the dog
    had not answered by then (censored).

    `Unknown` without reps, and when none was answered. Raises ValueError for unequal lengths
    and durations that are negative or not finite.
    """
    times, seen = _checked(durations, observed)
    of, events = len(times), int(seen.sum())
    if events == 0:
        return Unknown(code="no timed rep answered" if of else "no timed rep", of=of)
    moments, answered = np.unique(times[seen], return_counts=True)
    at_risk = _at_or_after(times, moments)
    share = np.cumprod(1 - answered / at_risk)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.cumsum(answered / (at_risk * (at_risk - answered)))
        error = np.where(share > 0, share * np.sqrt(spread), 0.0)
        reach = NormalDist().inv_cdf(0.5 + confidence / 2) * np.sqrt(spread) / np.log(share)
        low, high = share ** np.exp(-reach), share ** np.exp(reach)
    if share[-1] == 0:  # the last rep of all was answered: the interval above it stands
        low[-1], high[-1] = 0.0, high[-2] if len(high) > 1 else 1.0
    return Survival(
        of=of,
        events=events,
        times=tuple(moments.tolist()),
        at_risk=tuple(at_risk.tolist()),
        answered=tuple(answered.tolist()),
        share=tuple(share.tolist()),
        error=tuple(error.tolist()),
        low=tuple(low.tolist()),
        high=tuple(high.tolist()),
        longest=float(times.max()),
    )


def median(curve: Survival) -> TimeEstimate | Unknown:
    """The first time by which half are answered, with the interval of Brookmeyer and Crowley
    on the log-log scale. `Unknown` when fewer than half were answered: the median is not the
    last time."""
    value = _first_under_half(curve.times, curve.share)
    if value is None:
        return Unknown(code="median beyond", of=curve.of, value=curve.longest)
    low = _first_under_half(curve.times, curve.low)
    return TimeEstimate(
        value=value,
        low=value if low is None else low,
        high=_first_under_half(curve.times, curve.high),
        of=curve.of,
    )


def restricted_mean(
    curve: Survival, until: float | None = None, confidence: float = 0.95
) -> TimeEstimate | Unknown:
    """The mean time when each is counted for `until` seconds at most (default: the longest
    time of the curve): the area under the curve from 0 to `until`, with the variance

        sum over the times t of area(t to until)^2 d / (n (n - d)).

    `Unknown` when `until` is beyond the longest time. Raises ValueError
    unless `until` is above 0."""
    until = curve.longest if until is None else until
    if until <= 0:
        if curve.longest == 0:
            return Unknown(code="all at zero", of=curve.of)
        raise ValueError(f"a mean until {until} s")
    if until > curve.longest and curve.share[-1] > 0:
        return Unknown(code="mean beyond", of=curve.of, value=curve.longest, until=until)
    kept = [place for place, time in enumerate(curve.times) if time < until]
    edges = [0.0, *(curve.times[place] for place in kept), until]
    heights = [1.0, *(curve.share[place] for place in kept)]
    areas = [height * (b - a) for height, (a, b) in zip(heights, pairwise(edges), strict=True)]
    after = list(accumulate(reversed(areas[1:])))[::-1]
    variance = math.fsum(
        area**2 * d / (n * (n - d))
        for area, d, n in zip(after, curve.answered, curve.at_risk, strict=False)
        if n > d
    )
    value = math.fsum(areas)
    reach = NormalDist().inv_cdf(0.5 + confidence / 2) * math.sqrt(variance)
    return TimeEstimate(
        value=value,
        low=max(0.0, value - reach),
        high=min(until, value + reach),
        of=curve.of,
        until=until,
    )


def log_rank_test(
    groups: Sequence[tuple[Sequence[float], Sequence[bool]]],
) -> LogRankTest | Unknown:
    """Log-rank over two or more groups, each its durations and whether observed.

    At each time with d answers, a group with n(g) of the n reps under way is expected to have
    d n(g) / n of them; with O - E the answers above expectation and V their hypergeometric
    covariance, chi-square is (O - E)' V^- (O - E), of as many degrees as V has rank.

    `Unknown` with fewer than two groups that have reps, or when the groups were never under
    way at a time at which one was answered. Raises ValueError as `survival` does.
    """
    checked = [_checked(*group) for group in groups]
    of = sum(len(times) for times, _ in checked)
    if sum(len(times) > 0 for times, _ in checked) < 2:
        return Unknown(code="one group only", of=of)
    everyone = np.concatenate([times[seen] for times, seen in checked])
    moments, total = np.unique(everyone, return_counts=True)
    at_risk = np.array([_at_or_after(times, moments) for times, _ in checked])
    answered = np.array(
        [
            _at_or_after(times[seen], moments) - _after(times[seen], moments)
            for times, seen in checked
        ]
    )
    everywhere = at_risk.sum(axis=0)
    share = at_risk / everywhere
    expected = (share * total).sum(axis=1)
    factor = total * (everywhere - total) / np.maximum(everywhere - 1, 1)
    variance = np.diag((share * factor).sum(axis=1)) - (share * factor) @ share.T
    degrees = int(np.linalg.matrix_rank(variance, hermitian=True)) if len(moments) else 0
    if degrees == 0:
        return Unknown(code="groups apart in time", of=of)
    off = answered.sum(axis=1) - expected
    chi_square = float(off @ np.linalg.pinv(variance, hermitian=True) @ off)
    return LogRankTest(
        observed=tuple(answered.sum(axis=1).astype(float).tolist()),
        expected=tuple(expected.tolist()),
        chi_square=chi_square,
        degrees=degrees,
        p=_chi_square_tail(chi_square, degrees),
    )


def _checked(
    durations: Sequence[float], observed: Sequence[bool]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Durations and whether observed as arrays, or ValueError."""
    if len(durations) != len(observed):
        raise ValueError(f"{len(durations)} durations, {len(observed)} said observed or not")
    times = np.array(durations, dtype=np.float64)
    if not (np.isfinite(times) & (times >= 0)).all():
        raise ValueError("a duration is negative or not finite")
    return times, np.array(observed, dtype=np.bool_)


def _at_or_after(times: NDArray[np.float64], moments: NDArray[np.float64]) -> NDArray[np.intp]:
    """How many of the times are no earlier than each moment."""
    return len(times) - np.searchsorted(np.sort(times), moments)


def _after(times: NDArray[np.float64], moments: NDArray[np.float64]) -> NDArray[np.intp]:
    """How many of the times are later than each moment."""
    return len(times) - np.searchsorted(np.sort(times), moments, side="right")


def _first_under_half(times: Sequence[float], share: Sequence[float]) -> float | None:
    return next((t for t, s in zip(times, share, strict=True) if s <= _HALF), None)


def _chi_square_tail(value: float, degrees: int) -> float:
    """The chance that a chi-square of so many degrees is at least `value`."""
    if value <= 0:
        return 1.0
    half = value / 2
    if degrees % 2 == 0:
        tail, term, k = 0.0, math.exp(-half), 0.0
    else:
        tail, term, k = (
            math.erfc(math.sqrt(half)),
            math.exp(-half) * math.sqrt(4 * half / math.pi),
            0.5,
        )
    for _ in range(degrees // 2):
        tail += term
        k += 1
        term *= half / k
    return min(1.0, tail)
