"""The fit of levels against published logistic fits, with and without Firth's penalty.

Beetle mortality: C. I. Bliss, Annals of Applied Biology 22 (1935) 134-167, data as in A. J.
Dobson, An Introduction to Generalized Linear Models; the rounded coefficients are hers, from
memory, and statsmodels 0.15 and R glm agree to six digits.

Endometrial cancer: G. Heinze and M. Schemper, Statistics in Medicine 21 (2002) 2409-2419; data
as in the R package brglm2. Coefficients and intervals are the output of R's logistf, as kept by
the tests of the Python package firthlogist (firthlogist/tests/test_firthlogist.py); the
penalised likelihood ratio p values were computed with R brglm2 0.9 and firthmodels 0.8.2.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest
import statsmodels.api as sm

from tests.known import known
from voicelog.analysis.statistics.firth import BinomialRows, Likelihood, find_root
from voicelog.analysis.statistics.logistic_curve import CensoredLevel, LogisticCurve, fit_levels

BEETLES = (  # log10 of the dose, exposed, killed
    *((1.6907, 59, 6), (1.7242, 60, 13), (1.7552, 62, 18), (1.7842, 56, 28)),
    *((1.8113, 63, 52), (1.8369, 59, 53), (1.8610, 62, 61), (1.8839, 60, 60)),
)

ENDOMETRIAL = """
0 13 1.64 0  0 16 2.26 0  0 8 3.14 0   0 34 2.68 0  0 20 1.28 0  0 5 2.31 0   0 17 1.8 0
0 10 1.68 0  0 26 1.56 0  0 17 2.31 0  0 8 2.01 0   0 7 1.89 0   0 20 3.15 0  0 10 1.23 0
0 18 1.27 0  0 16 1.76 0  0 18 2 0     0 8 2.64 1   0 29 0.88 1  0 12 1.27 1  0 20 1.37 1
1 38 0.97 1  1 22 1.14 1  1 7 0.88 1   1 25 0.91 1  1 15 0.58 1  0 7 0.97 1   0 28 1.5 0
0 11 1.33 0  0 19 2.37 0  0 10 1.82 0  0 10 3.13 0  0 18 1.31 0  0 14 1.92 0  0 21 1.64 0
0 11 2.01 0  0 17 1.88 0  0 25 1.93 0  0 16 2.11 0  0 19 1.29 0  0 15 1.72 0  0 33 0.75 0
0 24 1.92 0  0 48 1.84 1  0 12 1.11 1  0 19 1.61 1  0 2 1.18 1   1 22 1.44 1  1 40 1.18 1
1 5 0.93 1   1 0 1.17 1   0 21 1.19 1  0 15 1.06 1  0 29 2.02 0  0 15 2.29 0  0 12 2.33 0
0 3 2.9 0    0 20 1.7 0   0 23 1.41 0  0 12 2.25 0  0 22 1.54 0  0 42 1.97 0  0 15 1.75 0
0 13 2.16 0  0 14 2.57 0  0 19 1.37 0  0 12 3.61 0  0 13 2.04 0  0 10 2.17 0  0 12 1.69 1
1 49 0.27 1  0 6 1.84 1   0 5 1.3 1    0 17 0.96 1  1 11 1.01 1  1 21 0.98 1  0 5 0.35 1
1 19 1.02 1  0 33 0.85 1
"""
"""NV, PI, EH, HG of 79 cases, four numbers each."""


def endometrial() -> Likelihood:
    cases = np.array(ENDOMETRIAL.split(), dtype=float).reshape(79, 4)
    design = np.column_stack([np.ones(79), cases[:, :3]])
    return Likelihood(BinomialRows(design, events=cases[:, 3], trials=np.ones(79)))


def profile(likelihood: Likelihood, at: int, value: float, start: np.ndarray) -> float:
    """The highest penalised log-likelihood with one coefficient held at a value."""
    held = start.copy()
    held[at] = value
    others = np.delete(np.eye(len(start)), at, axis=1)
    fit = likelihood.maximum(held, others)
    assert fit is not None
    return float(fit.value)


@pytest.mark.parametrize(
    ("at", "estimate", "low", "high"),
    [
        (0, 3.774560, 1.0825371, 7.2092805),
        (1, 2.929273, 0.6097244, 7.8546317),  # separated: plain likelihood has no maximum
        (2, -0.034752, -0.1244587, 0.0404555),
        (3, -2.604164, -4.3651832, -1.2327211),
    ],
)
def test_firth_copes_with_the_separation_of_the_endometrial_data(
    at: int, estimate: float, low: float, high: float
) -> None:
    likelihood = endometrial()
    best = known(likelihood.maximum(np.zeros(4)))
    assert best.beta[at] == pytest.approx(estimate, abs=1e-5)
    assert best.value == pytest.approx(-24.037268, abs=1e-6)
    room = NormalDist().inv_cdf(0.975)

    def beyond(value: float) -> float:
        drop = best.value - profile(likelihood, at, value, best.beta)
        return math.sqrt(max(0.0, 2 * drop)) - room

    for end, outside in ((low, 2 * low - estimate), (high, 2 * high - estimate)):
        ends = (float(best.beta[at]), -room), (outside, beyond(outside))
        found = find_root(beyond, *ends, tolerance=1e-8)
        assert found == pytest.approx(end, abs=1e-5)


@pytest.mark.parametrize(("at", "p"), [(1, 0.009124), (2, 0.387482), (3, 2.507e-5)])
def test_penalised_likelihood_ratios_of_the_endometrial_data(at: int, p: float) -> None:
    likelihood = endometrial()
    best = known(likelihood.maximum(np.zeros(4)))
    deviance = 2 * (best.value - profile(likelihood, at, 0.0, best.beta))
    assert math.erfc(math.sqrt(deviance / 2)) == pytest.approx(p, rel=1e-3)


def test_standard_errors_of_the_endometrial_data() -> None:
    best = known(endometrial().maximum(np.zeros(4)))
    errors = np.sqrt(np.diag(np.linalg.inv(best.information)))
    assert errors == pytest.approx([1.488692, 1.550764, 0.039578, 0.776018], abs=1e-5)


@pytest.mark.parametrize(
    ("of", "intercept", "slope"), [(6, -3.95111, 1.12889), (8, -4.5 * 1.03273, 1.03273)]
)
def test_small_separated_sets_as_firthmodels_fits_them(
    of: int, intercept: float, slope: float
) -> None:
    x = np.arange(1.0, of + 1)
    rows = BinomialRows(np.column_stack([np.ones(of), x]), (x > of / 2).astype(float), np.ones(of))
    best = known(Likelihood(rows).maximum(np.zeros(2)))
    assert best.beta == pytest.approx([intercept, slope], abs=1e-4)


def test_two_arms_without_overlap_have_half_an_event_added_to_each_cell() -> None:
    rows = BinomialRows(
        np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([0.0, 4.0]), np.array([4.0, 4.0])
    )
    best = known(Likelihood(rows).maximum(np.zeros(2)))
    assert best.beta == pytest.approx([-math.log(9), 2 * math.log(9)], abs=1e-4)


def test_beetle_mortality_as_plain_and_penalised_curves_have_it() -> None:
    """481 beetles: the penalty moves the published logit fit by well under a standard error."""
    walks = [
        walk
        for dose, exposed, killed in BEETLES
        for walk in [CensoredLevel(None, dose)] * killed
        + [CensoredLevel(dose, None)] * (exposed - killed)
    ]
    curve = fit_levels(walks)
    assert isinstance(curve, LogisticCurve)
    assert curve.intercept == pytest.approx(-60.71745, abs=0.15 * 5.18070)
    assert curve.slope == pytest.approx(34.27033, abs=0.15 * 2.91213)
    half, most = curve.levels
    low, value, high = known(half.low), known(half.value), known(half.high)
    assert value == pytest.approx(1.771721, abs=2e-4)
    # published: standard error of the dose for one half 0.003858, by the delta method
    assert value - low == pytest.approx(1.96 * 0.003858, rel=0.1)
    assert high - value == pytest.approx(1.96 * 0.003858, rel=0.1)
    assert known(most.low) < known(most.value) < known(most.high)


def test_beetle_mortality_without_the_penalty_is_the_published_fit() -> None:
    """The same likelihood, its penalty weighed to nothing by counting every beetle a million
    times over."""
    dose, exposed, killed = np.array(BEETLES).T
    design = np.column_stack([np.ones(8), dose - 1.79])
    best = known(Likelihood(BinomialRows(design, 1e6 * killed, 1e6 * exposed)).maximum(np.zeros(2)))
    intercept, slope = best.beta[0] - 1.79 * best.beta[1], best.beta[1]
    assert intercept == pytest.approx(-60.71745, abs=1e-4)
    assert slope == pytest.approx(34.27033, abs=1e-4)
    assert -intercept / slope == pytest.approx(1.771721, abs=1e-6)
    fitted = exposed / (1 + np.exp(-(intercept + slope * dose)))
    assert fitted == pytest.approx([3.46, 9.84, 22.45, 33.90, 50.10, 53.29, 59.22, 58.74], abs=0.01)
    errors = np.sqrt(1e6 * np.diag(np.linalg.inv(best.information)))
    assert errors[1] == pytest.approx(2.91213, abs=1e-4)


def test_the_plain_fit_agrees_with_statsmodels() -> None:
    rng = np.random.default_rng(5)
    x = rng.integers(1, 9, 400).astype(float)
    y = (rng.random(400) < 1 / (1 + np.exp(3 - 0.7 * x))).astype(float)
    design = np.column_stack([np.ones(400), x])
    best = known(Likelihood(BinomialRows(design, 1e6 * y, np.full(400, 1e6))).maximum(np.zeros(2)))
    assert best.beta == pytest.approx(sm.Logit(y, design).fit(disp=0).params, abs=1e-5)
