"""The marginal logistic fit: what it refuses, and what it makes of sessions that are all alike."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

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


def test_answers_that_part_far_out_end_without_a_warning() -> None:
    """In two steps these go where a share is 1 to the last digit, and its spread 0."""
    later, easier, answers, session = (
        [int(figure) for figure in figures]
        for figures in (
            "0000000111111111111",
            "0001101001111000001",
            "1101101111111110101",
            "0011112344455556666",
        )
    )
    x = np.column_stack([np.ones(19), later, easier]).astype(np.float64)
    parted = fit_marginal_logistic(x, np.array(answers, dtype=np.float64), session)
    assert parted == Unknown(code="parted", of=19, count=15)


def test_lengths_must_agree() -> None:
    with pytest.raises(ValueError, match="3 rows, 2 answers and 3 clusters"):
        fit_marginal_logistic(np.ones((3, 1)), np.array([0.0, 1.0]), [1, 2, 3])


def test_no_student_without_freedom() -> None:
    with pytest.raises(ValueError, match="0 degrees of freedom"):
        student_within(1.0, 0)
    with pytest.raises(ValueError, match="confidence 1"):
        student_quantile(1, 3)


def by_definition(x: Array, y: Array, clusters: NDArray[np.int64]) -> tuple[Array, float, Array]:
    """Coefficients, correlation and corrected variance by the formulas of the module's text, with
    the matrices of each cluster written out."""
    beta, correlation = np.zeros(x.shape[1]), 0.0
    members = [np.flatnonzero(clusters == one) for one in np.unique(clusters)]

    def each() -> list[tuple[Array, Array, Array]]:
        """Of each cluster D, V^-1 and y - mu."""
        found = []
        for some in members:
            mu = 1 / (1 + np.exp(-x[some] @ beta))
            spread = np.diag(np.sqrt(mu * (1 - mu)))
            alike = np.full((len(some), len(some)), correlation) + np.eye(len(some)) * (
                1 - correlation
            )
            v = spread @ alike @ spread
            found.append(((spread**2) @ x[some], np.linalg.inv(v), y[some] - mu))
        return found

    for _ in range(40):
        bread = sum((d.T @ v @ d for d, v, _ in each()), np.zeros((x.shape[1],) * 2))
        beta = beta + np.linalg.solve(
            bread, sum((d.T @ v @ e for d, v, e in each()), np.zeros(x.shape[1]))
        )
        mu = 1 / (1 + np.exp(-x @ beta))
        pearson = (y - mu) / np.sqrt(mu * (1 - mu))
        pairs = [(a, b) for some in members for a in some for b in some if a < b]
        products = sum(pearson[a] * pearson[b] for a, b in pairs)
        spread = (pearson**2).sum() / (len(y) - x.shape[1])
        largest = max(map(len, members))
        correlation = min(0.95, products / spread / (len(pairs) - x.shape[1]))
        correlation = float(max(correlation, -0.95 / (largest - 1)))
    bread = sum((d.T @ v @ d for d, v, _ in each()), np.zeros((x.shape[1],) * 2))
    inverse, meat = np.linalg.inv(bread), np.zeros((x.shape[1],) * 2)
    for d, v, error in each():
        fuller = np.linalg.solve(np.eye(len(error)) - d @ inverse @ d.T @ v, error)
        pull = d.T @ v @ fuller
        meat += np.outer(pull, pull)
    return beta, correlation, inverse @ meat @ inverse


@pytest.mark.parametrize("seed", range(8))
def test_it_is_what_its_formulas_say_of_any_history(seed: int) -> None:
    chance = np.random.default_rng(seed)
    sessions = int(chance.integers(8, 20))
    cluster = np.repeat(np.arange(sessions), chance.integers(1, 9, sessions))
    hard = (np.arange(sessions) % int(chance.integers(2, 4)))[cluster]
    good_day = chance.normal(0, float(chance.uniform(0, 1.5)), sessions)[cluster]
    yes = chance.random(len(cluster)) < 1 / (1 + np.exp(-good_day + 0.4 * hard))
    x = np.column_stack([cluster / (sessions - 1), *(1.0 * (hard == at) for at in set(hard))])
    answers = yes.astype(np.float64)
    fit = fit_marginal_logistic(x, answers, cluster.tolist())
    assert isinstance(fit, MarginalFit)
    beta, correlation, corrected = by_definition(x, answers, cluster)
    assert fit.beta == pytest.approx(beta, abs=1e-7)
    assert fit.correlation == pytest.approx(correlation, abs=1e-8)
    assert fit.corrected == pytest.approx(corrected, rel=1e-6)
