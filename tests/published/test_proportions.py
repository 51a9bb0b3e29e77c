"""Wilson intervals against R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872.

The four rows of his table 1 are from memory, method 3 (score, without continuity correction);
statsmodels, scipy and R's prop.test(correct = FALSE) give the same digits.
"""

from __future__ import annotations

import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from voicelog.analysis.statistics.proportion import Proportion, wilson_interval


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (8, 10, 0.4902, 0.9433),
        (9, 10, 0.5958, 0.9821),
        (0, 10, 0.0000, 0.2775),
    ],
)
def test_newcombes_rows_and_two_criteria(count: int, of: int, low: float, high: float) -> None:
    share = wilson_interval(count, of)
    assert isinstance(share, Proportion)
    assert (share.low, share.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("of", [1, 2, 7, 10, 33, 500])
def test_two_libraries_agree(of: int, confidence: float) -> None:
    for count in range(0, of + 1, max(1, of // 7)):
        share = wilson_interval(count, of, confidence)
        assert isinstance(share, Proportion)
        ours = pytest.approx((share.low, share.high), abs=1e-9)
        assert proportion_confint(count, of, 1 - confidence, method="wilson") == ours
        ci = binomtest(count, of).proportion_ci(confidence, method="wilson")
        assert (ci.low, ci.high) == ours
