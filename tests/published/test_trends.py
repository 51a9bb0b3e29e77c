"""Mann-Kendall and Theil-Sen against worked examples.

Fourteen values: "Mann-Kendall by hand", College of the Holy Cross
(mathcs.holycross.edu/~little/Montserrat/MannKendallByHand.txt). Four values: R. O. Gilbert,
Statistical Methods for Environmental Pollution Monitoring (1987), table A18, from memory. The
flow of the Nile 1871 to 1970 is the data set `nile` of statsmodels; S, Z, p and slope were
computed with pymannkendall 1.4.3, the interval with scipy.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import kendalltau, theilslopes

from voicelog.analysis.statistics.trend import Trend, trend

FOURTEEN = [12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7]


def told(values: list[float], times: list[float] | None = None, confidence: float = 0.95) -> Trend:
    found = trend(list(range(len(values))) if times is None else times, values, confidence)
    assert isinstance(found, Trend)
    return found


def p_of(z: float) -> float:
    return math.erfc(abs(z) / math.sqrt(2))


def test_fourteen_values_worked_by_hand() -> None:
    found = told(FOURTEEN)
    assert found.s == 54
    assert not found.exact  # 12.9 comes twice
    assert found.p == pytest.approx(0.0036627, abs=5e-8)
    assert found.p == pytest.approx(p_of(2.9058), abs=2e-6)
    assert (found.slope, found.intercept) == pytest.approx((0.566667, 11.966667), abs=1e-6)


def test_four_values_as_in_gilberts_table() -> None:
    found = told([10, 15, 14, 20])
    assert (found.s, found.exact) == (4, True)
    assert found.p == pytest.approx(2 * 4 / 24)
    assert found.slope == pytest.approx(2.916667, abs=1e-6)


def test_five_values_falling_throughout() -> None:
    found = told([5, 4, 3, 2, 1])
    assert (found.s, found.exact) == (-10, True)
    assert found.p == pytest.approx(0.016667, abs=1e-6)


def test_the_flow_of_the_nile() -> None:
    nile = sm.datasets.nile.load_pandas().data["volume"].tolist()
    found = told(nile)
    assert found.s == -1387
    assert found.p == pytest.approx(3.6583e-5, rel=1e-4)
    assert found.slope == pytest.approx(-2.6)
    assert (found.low, found.high) == pytest.approx((-3.627907, -1.428571), abs=1e-6)


@pytest.mark.parametrize("of", [5, 8, 15, 30])
def test_scipy_agrees_without_ties(of: int) -> None:
    rng = np.random.default_rng(of)
    times = np.cumsum(rng.integers(1, 6, of)).astype(float)
    values = rng.normal(size=of) + 0.05 * times
    found = told(values.tolist(), times.tolist())
    exact = kendalltau(times, values, method="exact")
    assert found.exact
    assert found.p == pytest.approx(exact.pvalue, rel=1e-9)
    slope, intercept, low, high = theilslopes(values, times, alpha=0.95)
    assert found.slope == pytest.approx(slope)
    assert found.intercept == pytest.approx(intercept)
    assert (found.low, found.high) == pytest.approx((low, high))


def test_scipy_agrees_with_ties_in_both_but_for_the_correction_for_continuity() -> None:
    rng = np.random.default_rng(3)
    times = rng.integers(0, 8, 40).astype(float)
    values = np.round(rng.normal(size=40) + 0.2 * times)
    found = told(values.tolist(), times.tolist())
    theirs = kendalltau(times, values, method="asymptotic")
    s = abs(found.s)
    z = math.sqrt(2) * _inverse_erfc(theirs.pvalue)
    assert found.p == pytest.approx(p_of(z * (s - 1) / s), rel=1e-6)


def _inverse_erfc(p: float) -> float:
    from scipy.special import erfcinv

    return float(erfcinv(p))
