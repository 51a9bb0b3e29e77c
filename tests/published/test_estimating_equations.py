"""The marginal logistic fit and Student's t against statsmodels and scipy.

`reference/gee_values.json` holds what statsmodels 0.15.0 made (GEE, binomial, exchangeable working
correlation; `cov_robust`, and `cov_type="bias_reduced"`, which is Mancl and DeRouen's); the command
that makes it stands in `reference/make_gee_values.py`.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.published.reference.make_gee_values import CASES, drawn
from voicelog.analysis.statistics.estimating_equations import MarginalFit, fit_marginal_logistic
from voicelog.analysis.statistics.student_t import student_quantile, student_within

VALUES = json.loads(
    (Path(__file__).parent / "reference" / "gee_values.json").read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", CASES)
def test_coefficients_correlation_and_variances_are_those_of_statsmodels(name: str) -> None:
    rows, answers, clusters = drawn(name, CASES[name])
    expected = VALUES[name]
    assert (len(answers), sum(answers)) == (expected["of"], expected["answered"])
    fit = fit_marginal_logistic(np.array(rows), np.array(answers), clusters)
    assert isinstance(fit, MarginalFit)
    assert fit.beta == pytest.approx(expected["beta"], rel=1e-8)
    assert fit.correlation == pytest.approx(expected["correlation"], rel=1e-7)
    assert fit.robust == pytest.approx(np.array(expected["robust"]), rel=1e-7)
    assert fit.corrected == pytest.approx(np.array(expected["corrected"]), rel=1e-7)


@pytest.mark.parametrize("df", [1, 2, 3, 4, 7, 10, 21, 100])
def test_the_quantile_of_student_is_that_of_scipy(df: int) -> None:
    for confidence in (0.5, 0.9, 0.95, 0.99):
        expected = float(stats.t.ppf(0.5 + confidence / 2, df))
        assert student_quantile(confidence, df) == pytest.approx(expected, rel=1e-9)
        assert student_within(expected, df) == pytest.approx(confidence, rel=1e-9)
