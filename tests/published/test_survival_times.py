"""Survival curves against the 6-MP trial: E. J. Freireich and others, Blood 21 (1963) 699-716.

The table of S(t) is the one printed in many textbooks (from memory); R's survival package,
lifelines, statsmodels and scipy give the same digits. Weeks of remission; "+" is censored.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy import stats

from voicelog.analysis.statistics.survival import (
    LogRankTest,
    Survival,
    TimeEstimate,
    log_rank_test,
    median,
    restricted_mean,
    survival,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # what the reference library's own imports say
    import lifelines
    from lifelines.statistics import multivariate_logrank_test
    from lifelines.utils import median_survival_times

TREATED = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
CONTROL = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def arm(weeks: str) -> tuple[list[float], list[bool]]:
    each = weeks.split()
    return [float(week.rstrip("+")) for week in each], [not week.endswith("+") for week in each]


def curve(weeks: str) -> Survival:
    found = survival(*arm(weeks))
    assert isinstance(found, Survival)
    return found


def test_the_table_of_the_treated_arm() -> None:
    found = curve(TREATED)
    table = [
        (6, 21, 3, 0.857143, 0.076360),
        (7, 17, 1, 0.806723, 0.086935),
        (10, 15, 1, 0.752941, 0.096350),
        (13, 12, 1, 0.690196, 0.106815),
        (16, 11, 1, 0.627451, 0.114054),
        (22, 7, 1, 0.537815, 0.128234),
        (23, 6, 1, 0.448179, 0.134591),
    ]
    rows = zip(found.times, found.at_risk, found.answered, found.share, found.error, strict=True)
    for row, (time, at_risk, events, share, error) in zip(rows, table, strict=True):
        assert row[:3] == (time, at_risk, events)
        assert row[3:] == pytest.approx((share, error), abs=1e-6)
    assert (found.of, found.events) == (21, 9)


def test_medians() -> None:
    treated, control = median(curve(TREATED)), median(curve(CONTROL))
    assert isinstance(treated, TimeEstimate)
    assert isinstance(control, TimeEstimate)
    assert (treated.value, control.value) == (23, 8)


@pytest.mark.parametrize(
    ("weeks", "until", "mean"),
    [(TREATED, 35, 23.287395), (TREATED, 23, 17.909244), (CONTROL, 23, 8.666667)],
)
def test_restricted_means(weeks: str, until: int, mean: float) -> None:
    found = restricted_mean(curve(weeks), until)
    assert isinstance(found, TimeEstimate)
    assert found.value == pytest.approx(mean, abs=1e-5)


def test_the_standard_error_of_the_restricted_mean() -> None:
    """2.83 to 35 weeks, as R's survival package prints it (from memory)."""
    found = restricted_mean(curve(TREATED), 35)
    assert isinstance(found, TimeEstimate)
    assert (found.value - found.low) / 1.959964 == pytest.approx(2.83, abs=0.005)


def test_the_log_rank_comparison() -> None:
    found = log_rank_test([arm(TREATED), arm(CONTROL)])
    assert isinstance(found, LogRankTest)
    assert found.observed == (9, 21)
    assert found.expected == pytest.approx((19.250501, 10.749499), abs=1e-6)
    assert found.chi_square == pytest.approx(16.792941, abs=1e-6)
    assert found.p == pytest.approx(4.1688e-5, rel=1e-4)
    assert found.degrees == 1


def test_scipy_and_lifelines_agree_on_the_trial() -> None:
    sides = [
        stats.CensoredData.right_censored(np.array(t), ~np.array(seen))
        for t, seen in (arm(TREATED), arm(CONTROL))
    ]
    found = log_rank_test([arm(TREATED), arm(CONTROL)])
    assert isinstance(found, LogRankTest)
    assert stats.logrank(*sides).pvalue == pytest.approx(found.p, rel=1e-9)
    assert stats.ecdf(sides[0]).sf.probabilities[-1] == pytest.approx(curve(TREATED).share[-1])


@pytest.mark.parametrize("seed", range(6))
def test_lifelines_agrees_on_invented_times(seed: int) -> None:
    rng = np.random.default_rng(seed)
    of = int(rng.integers(8, 60))
    times = np.round(rng.exponential(4, of), 1) + 0.1
    seen = rng.random(of) < 0.7
    ours = survival(times.tolist(), seen.tolist())
    assert isinstance(ours, Survival)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own use of other libraries
        theirs = lifelines.KaplanMeierFitter().fit(times, seen)
        at = theirs.survival_function_at_times(ours.times).to_numpy()
        band = theirs.confidence_interval_.loc[list(ours.times)].to_numpy()
        low, high = median_survival_times(theirs.confidence_interval_).to_numpy()[0]
        middle = theirs.median_survival_time_
    assert ours.share == pytest.approx(at, abs=1e-12)
    open_ = np.array(ours.share) > 0
    assert np.array(ours.low)[open_] == pytest.approx(band[open_, 0], abs=1e-9)
    assert np.array(ours.high)[open_] == pytest.approx(band[open_, 1], abs=1e-9)
    half = median(ours)
    if np.isinf(middle):
        assert not isinstance(half, TimeEstimate)
    else:
        assert isinstance(half, TimeEstimate)
        assert (half.value, half.low) == (middle, low)
        assert (np.inf if half.high is None else half.high) == high


@pytest.mark.parametrize("groups", [2, 3, 5])
def test_lifelines_agrees_on_comparisons_of_several_groups(groups: int) -> None:
    rng = np.random.default_rng(groups)
    of = 40
    times = np.round(rng.exponential(4, of), 1) + 0.1
    seen = rng.random(of) < 0.8
    group = rng.integers(0, groups, of)
    found = log_rank_test(
        [(times[group == g].tolist(), seen[group == g].tolist()) for g in range(groups)]
    )
    assert isinstance(found, LogRankTest)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own use of other libraries
        theirs = multivariate_logrank_test(times, group, seen)
    assert found.degrees == groups - 1
    assert found.chi_square == pytest.approx(theirs.test_statistic, abs=1e-9)
    assert found.p == pytest.approx(theirs.p_value, abs=1e-9)


def test_a_hand_worked_curve() -> None:
    found = survival([1, 2, 3, 4, 5], [True, True, False, True, False])
    assert isinstance(found, Survival)
    assert found.times == (1, 2, 4)
    assert found.share == pytest.approx((0.8, 0.6, 0.3))
    half = median(found)
    assert isinstance(half, TimeEstimate)
    assert half.value == 4
