"""The marginal logistic fit: what it refuses, and what it makes of sessions that are all alike."""

from __future__ import annotations

import math

import numpy as np
import pytest

from voicelog.analysis.statistics.estimating_equations import (
    Array,
    MarginalFit,
    fit_marginal_logistic,
)
from voicelog.analysis.statistics.student_t import student_quantile, student_within
from voicelog.analysis.statistics.unknown import Unknown


def line(places: list[float]) -> Array:
    return np.column_stack([np.ones(len(places)), places])


def test_with_one_coefficient_it_is_the_share() -> None:
    answers = [1.0, 1.0, 1.0, 0.0] * 6
    clusters = [number // 4 for number in range(24)]
    fit = fit_marginal_logistic(np.ones((24, 1)), np.array(answers), clusters)
    assert isinstance(fit, MarginalFit)
    assert fit.beta[0] == pytest.approx(math.log(3))
    assert fit.interval(np.array([1.0]))[1:] == pytest.approx([math.log(3)] * 2)
    assert (fit.clusters, fit.freedom) == (6, 5)


def test_sessions_that_differ_make_the_interval_wider() -> None:
    alike = np.array([1.0, 0.0] * 20)
    apart = np.array([1.0, 1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 1.0] * 5)
    clusters = [number // 4 for number in range(40)]
    widths = []
    for answers in (alike, apart):
        fit = fit_marginal_logistic(np.ones((40, 1)), answers, clusters)
        assert isinstance(fit, MarginalFit)
        _, low, high = fit.interval(np.array([1.0]))
        widths.append(high - low)
    assert widths[0] < 0.5 < widths[1]


def test_too_few_sessions_and_answers_that_are_parted_have_no_fit() -> None:
    places = [0.0, 0.0, 1.0, 1.0]
    few = fit_marginal_logistic(line(places), np.array([0.0, 1.0, 0.0, 1.0]), [1, 1, 2, 2])
    assert few == Unknown(code="too few sessions", of=2, needed=5)
    number = [float(each) for each in range(8)]
    split = fit_marginal_logistic(line(number), np.array([0.0] * 4 + [1.0] * 4), range(8))
    assert isinstance(split, Unknown)
    assert split.code == "parted"
    same = np.ones((8, 2))
    assert isinstance(fit_marginal_logistic(same, np.array([0.0, 1.0] * 4), range(8)), Unknown)


def test_lengths_must_agree() -> None:
    with pytest.raises(ValueError, match="3 rows, 2 answers and 3 clusters"):
        fit_marginal_logistic(np.ones((3, 1)), np.array([0.0, 1.0]), [1, 2, 3])


def test_no_student_without_freedom() -> None:
    with pytest.raises(ValueError, match="0 degrees of freedom"):
        student_within(1.0, 0)
    with pytest.raises(ValueError, match="confidence 1"):
        student_quantile(1, 3)
