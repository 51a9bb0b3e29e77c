"""The interval of a share whose sessions differ, against statsmodels.

The variance of the share that the sessions show is that of an ordinary regression on nothing but an
intercept with clustered errors (statsmodels, `cov_type="cluster"`, without its correction for the
number of reps), and the interval is Wilson's with as many reps as the design effect leaves
(statsmodels, `proportion_confint`).
"""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from statsmodels.stats.proportion import proportion_confint

from voicelog.analysis.statistics.clustered_share import LEAST_CORRELATION, clustered_share
from voicelog.analysis.statistics.proportion import Proportion, wilson_interval

CASES = [
    [(9, 10), (2, 10), (10, 10), (4, 8), (1, 9)],
    [(3, 3), (0, 4), (5, 6), (12, 15), (0, 3), (7, 7)],
    [(8, 10), (8, 10), (8, 10), (8, 10)],
    [(0, 5), (10, 10)],
]


@pytest.mark.parametrize("counts", CASES)
def test_the_design_effect_and_the_interval_are_those_of_statsmodels(
    counts: list[tuple[int, int]],
) -> None:
    answers = np.concatenate([np.repeat([1.0, 0.0], [yes, of - yes]) for yes, of in counts])
    groups = np.repeat(np.arange(len(counts)), [of for _, of in counts])
    fit = sm.OLS(answers, np.ones(len(answers))).fit(
        cov_type="cluster", cov_kwds={"groups": groups, "use_correction": False}
    )
    sessions, reps, share = len(counts), len(answers), answers.mean()
    shown = float(fit.cov_params()[0, 0]) * sessions / (sessions - 1)
    effect = shown / (share * (1 - share) / reps)
    mean_size = sum(of * of for _, of in counts) / reps
    size = reps / max(effect, 1 + (mean_size - 1) * LEAST_CORRELATION)
    low, high = proportion_confint(share * size, size, method="wilson")
    found = clustered_share(counts)
    assert isinstance(found, Proportion)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


def test_by_hand() -> None:
    """Two sessions of ten, eight and four: p = 0.6, n = 20, so the effect is 2 (4 + 4) / 4.8."""
    found = clustered_share([(8, 10), (4, 10)])
    assert isinstance(found, Proportion)
    low, high = proportion_confint(0.6 * 6, 6, method="wilson")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


def test_one_rep_a_session_is_wilsons_interval() -> None:
    found, plain = clustered_share([(1, 1)] * 12 + [(0, 1)] * 12), wilson_interval(12, 24)
    assert isinstance(found, Proportion)
    assert isinstance(plain, Proportion)
    assert found.low == pytest.approx(plain.low, abs=0.01)
    assert found.low <= plain.low
