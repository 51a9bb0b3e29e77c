"""Whether a share of yes and no changes with what goes along with it, in reps of one session alike.

A logistic regression by generalized estimating equations: the chance of a yes is
mu = 1 / (1 + exp(-x beta)); the reps of one cluster (session) have the same correlation a between
any two of them, and different clusters none. beta solves

    sum over clusters of D' V^-1 (y - mu) = 0,   D = A X,   V = A^(1/2) R(a) A^(1/2),

A being the diagonal of mu (1 - mu) and R(a) 1 on the diagonal and a beside it; a is the mean
product of two Pearson residuals of one cluster over their mean square (K.-Y. Liang and S. L. Zeger,
Biometrika 73 (1986) 13-22). What the clusters have in common is not believed: the variance is the
robust one,

    B^-1 (sum of D' V^-1 e e' V^-1 D) B^-1,   B = sum of D' V^-1 D,

and since it comes out too small with few clusters, each residual is taken as
e = (I - D B^-1 D' V^-1)^-1 (y - mu) (L. A. Mancl and T. A. DeRouen, Biometrics 57 (2001) 126-134).
Intervals are Student's with as many degrees of freedom as there are clusters less coefficients.

The formulas are from memory; the tests hold coefficients, correlation and both variances against
those of statsmodels.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from voicelog.analysis.statistics.student_t import student_quantile
from voicelog.analysis.statistics.unknown import Unknown

__all__ = ["MarginalFit", "fit_marginal_logistic"]

Array: TypeAlias = NDArray[np.float64]

ROUNDS = 100
CLOSE = 1e-9
FARTHEST = 12.0
"""A linear predictor beyond which the answers are taken to be parted altogether."""
MIN_FREEDOM = 3
"""Clusters more than coefficients before there is an interval (common practice, no source)."""


class MarginalFit(NamedTuple):
    """Coefficients (log odds), the correlation of two reps of one session, and the variances: the
    robust one and the one corrected for few clusters, both of shape (coefficients, coefficients),
    float64."""

    beta: Array
    correlation: float
    robust: Array
    corrected: Array
    clusters: int

    @property
    def freedom(self) -> int:
        """Degrees of freedom of an interval."""
        return self.clusters - len(self.beta)

    def interval(self, along: Array, confidence: float = 0.95) -> tuple[float, float, float]:
        """A combination of the coefficients (log odds) with its interval: value, low, high."""
        value = float(along @ self.beta)
        reach = student_quantile(confidence, self.freedom) * math.sqrt(
            max(0.0, float(along @ self.corrected @ along))
        )
        return value, value - reach, value + reach


def fit_marginal_logistic(
    x: Array, y: Array, clusters: Sequence[Hashable]
) -> MarginalFit | Unknown:
    """Fit the share of yes.

    Args:
        x: what goes along with each rep, a column of ones among it; (reps, coefficients), float64.
        y: 1.0 for yes, 0.0 for no; (reps,), float64.
        clusters: the session of each rep.

    `Unknown` where the clusters are too few for the coefficients ("too few sessions"), or where
    yes and no are parted altogether so that no coefficient is finite ("parted"). Raises ValueError
    for unequal lengths.
    """
    if not len(x) == len(y) == len(clusters):
        raise ValueError(f"{len(x)} rows, {len(y)} answers and {len(clusters)} clusters")
    known = {cluster: number for number, cluster in enumerate(dict.fromkeys(clusters))}
    reps = _Reps(x, y, np.array([known[cluster] for cluster in clusters], dtype=np.intp))
    needed = x.shape[1] + MIN_FREEDOM
    if len(known) < needed:
        return Unknown(code="too few sessions", of=len(known), needed=needed)
    beta, correlation = np.zeros(x.shape[1]), 0.0
    parted = Unknown(code="parted", of=len(y), count=int(y.sum()))
    try:
        at = reps.at(beta)
        for _ in range(ROUNDS):
            step = reps.step(at, correlation)
            beta = beta + step
            if not reps.farthest(beta) <= FARTHEST:  # nan is no number to go on from either
                return parted
            at = reps.at(beta)
            before, correlation = correlation, reps.correlation(at)
            if abs(before - correlation) < CLOSE and np.abs(step).max() < CLOSE:
                return _with_variances(beta, correlation, *reps.equations(at, correlation))
    except np.linalg.LinAlgError:
        return parted
    return parted


class _At(NamedTuple):
    """The reps at some beta: of each rep its row of A^(1/2) X and y - mu; over each cluster the
    sums of those rows (clusters, coefficients) and of Pearson's residuals (clusters); and the sum
    of the squares of those."""

    rows: Array
    errors: Array
    sums: Array
    totals: Array
    squares: float


class _Reps:
    """The reps, and what the equations take of them; sums over each cluster."""

    def __init__(self, x: Array, y: Array, cluster: NDArray[np.intp]) -> None:
        order = np.argsort(cluster, kind="stable")
        self._x, self._y = x[order], y[order]
        self._sizes = np.bincount(cluster).astype(np.float64)
        self._starts = np.searchsorted(cluster[order], np.arange(len(self._sizes)))
        self._largest = float(self._sizes.max())
        self._pairs = float((self._sizes * (self._sizes - 1)).sum()) / 2

    def farthest(self, beta: Array) -> float:
        """The largest linear predictor at a beta, without its sign."""
        return float(np.abs(self._x @ beta).max())

    def at(self, beta: Array) -> _At:
        """The reps at a beta; beyond `FARTHEST` a share is 0 or 1 to the last digit, and what is
        divided by its spread is no number."""
        eta = self._x @ beta
        mu = 1 / (1 + np.exp(-eta))
        spread, errors = np.sqrt(mu * (1 - mu)), self._y - mu
        rows, residuals = spread[:, np.newaxis] * self._x, errors / spread
        sums, totals = self._sums(rows), self._sums(residuals)
        return _At(rows, errors, sums, totals, float(residuals @ residuals))

    def step(self, at: _At, correlation: float) -> Array:
        """How far to go: the equations of all clusters together, in which 1 - a cancels."""
        shared = self._shared(correlation)
        own = at.rows.T @ at.rows - (shared[:, np.newaxis] * at.sums).T @ at.sums
        pull = at.errors @ self._x - (shared * at.totals) @ at.sums
        return np.linalg.solve(own, pull).astype(np.float64)

    def equations(self, at: _At, correlation: float) -> tuple[Array, Array]:
        """Of each cluster D' V^-1 D and D' V^-1 (y - mu)."""
        shared = self._shared(correlation)
        own = self._sums(at.rows[:, :, np.newaxis] * at.rows[:, np.newaxis, :])
        own -= (shared[:, np.newaxis] * at.sums)[:, :, np.newaxis] * at.sums[:, np.newaxis, :]
        pulls = self._sums(self._x * at.errors[:, np.newaxis])
        pulls -= (shared * at.totals)[:, np.newaxis] * at.sums
        return own / (1 - correlation), pulls / (1 - correlation)

    def correlation(self, at: _At) -> float:
        """The correlation of two reps of one cluster, kept where the largest cluster allows it."""
        products = (float(at.totals @ at.totals) - at.squares) / 2
        (reps, size), squares = self._x.shape, at.squares
        if self._pairs <= size or reps <= size or squares == 0:
            return 0.0
        found = products / (squares / (reps - size)) / (self._pairs - size)
        return float(min(0.95, max(found, -0.95 / max(1.0, self._largest - 1))))

    def _shared(self, correlation: float) -> Array:
        return correlation / (1 + (self._sizes - 1) * correlation)

    def _sums(self, rows: Array) -> Array:
        found: Array = np.add.reduceat(rows, self._starts, axis=0)
        return found


def _with_variances(beta: Array, correlation: float, own: Array, pulls: Array) -> MarginalFit:
    inverse = np.linalg.inv(own.sum(axis=0))
    # D' V^-1 (I - D B^-1 D' V^-1)^-1 = (I - D' V^-1 D B^-1)^-1 D' V^-1, which is smaller
    kept = np.eye(len(beta)) - own @ inverse
    fuller = np.linalg.solve(kept, pulls[:, :, np.newaxis])[:, :, 0]
    robust, corrected = (inverse @ (some.T @ some) @ inverse for some in (pulls, fuller))
    return MarginalFit(beta, correlation, robust, corrected, len(own))
