"""Logistic regression with Firth's penalty, and what its likelihood says of a constraint.

With few reps the plain fit is biased, and without overlap between answered and ignored levels
it has no finite answer at all; the penalty (half the logarithm of the determinant of the
information) mends both:

    l*(beta) = log L(beta) + 1/2 log det I(beta).

Intervals come from the profile of the penalised likelihood, never from a standard error.

D. Firth, Biometrika 80 (1993) 27-38; G. Heinze and M. Schemper, Statistics in Medicine 21
(2002) 2409-2419.

Far from the maximum every rep is foretold with near certainty and the information is 0 within
rounding, so a Newton step has no answer there. Such a step is damped with the most information
that the rows can hold, which is never singular and bounds how the likelihood bends (D. Boehning
and B. G. Lindsay, Annals of the Institute of Statistical Mathematics 40 (1988) 641-663).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["BinomialRows", "FirthFit", "Likelihood", "Vector", "expit", "find_root"]

Vector = NDArray[np.float64]
"""Numbers as float64, of one dimension or two."""


def expit(eta: Vector) -> Vector:
    """1 / (1 + exp(-eta)), quietly at any size of eta; nan stays nan."""
    return 0.5 + 0.5 * np.tanh(eta / 2)


class BinomialRows(NamedTuple):
    """What is fitted: `events` of `trials` (one a row) at each row of `design` (rows by
    coefficients), all float64.

    `pairs` of rows (one a width, as `widths` is), an event at one level and a failure at `widths`
    below it, came from one threshold lying between them; the last coefficient is the slope on
    levels. See `censored_level.py`. Leave both empty for plain logistic regression.
    """

    design: Vector
    events: Vector
    trials: Vector
    widths: Vector = np.empty(0)
    pairs: Vector = np.empty(0)


class FirthFit(NamedTuple):
    """The coefficients (k) at a maximum, the penalised log-likelihood (nats) and the information
    (k by k) there."""

    beta: Vector
    value: float
    information: Vector


class _Evaluation(NamedTuple):
    value: float
    gradient: Vector
    information: Vector


class Likelihood:
    """The penalised log-likelihood of some rows."""

    def __init__(self, rows: BinomialRows) -> None:
        self.rows = rows
        of, width = rows.design.shape
        self._squares = (rows.design[:, :, None] * rows.design[:, None, :]).reshape(of, width**2)
        self._most = (0.25 * rows.trials @ self._squares).reshape(width, width)

    def evaluate(self, beta: Vector) -> _Evaluation | None:
        """Value (nats), gradient (k) and information (k by k) at `beta` (k); None where there is
        no likelihood, or none that rounding leaves.

        With p_i = expit(x_i beta) and n_i trials of which y_i are events: log L is the sum of
        y_i log p_i + (n_i - y_i) log(1 - p_i), I = X' W X with W = diag(n_i p_i (1 - p_i)), and

            gradient of l* = X' (y - n p + h (1/2 - p)),    h_i = W_i x_i' I^-1 x_i

        (Heinze and Schemper 2002, section 2). A pair of width d adds log(1 - exp(-b d)) for the
        slope b, the last coefficient: P(between) = P(answered above) * P(ignored below) *
        (1 - exp(-b d)) for a logistic threshold. So d / (exp(b d) - 1) comes to the gradient of b,
        d^2 exp(b d) / (exp(b d) - 1)^2 to its information, and half of I^-1[b, b] times the
        derivative of that by b to the gradient through the determinant.
        """
        design, events, trials, widths, pairs = self.rows
        eta = design @ beta
        log_fail = -np.logaddexp(0.0, eta)
        p = np.exp(eta + log_fail)
        weight = trials * p * np.exp(log_fail)
        information = (weight @ self._squares).reshape(len(beta), len(beta))
        value = float(events @ eta + trials @ log_fail)
        slope_gradient = drift = 0.0
        if len(widths):
            z = beta[-1] * widths
            if not 0 < z.min() <= z.max() < 300:
                return None
            grown = np.expm1(z)
            value += float(pairs @ np.log(-np.expm1(-z)))
            slope_gradient = float(pairs @ (widths / grown))
            bend = pairs * widths**2 * (grown + 1) / grown**2
            information[-1, -1] += bend.sum()
            drift = -float((bend * widths) @ ((grown + 2) / grown))
        undone = _undone(information)
        if undone is None:
            return None
        half, inverse = undone
        hat = weight * (self._squares @ inverse.ravel())
        gradient = (events - trials * p + hat * (0.5 - p)) @ design
        gradient[-1] += slope_gradient + 0.5 * inverse[-1, -1] * drift
        return _Evaluation(value + 0.5 * half, gradient, information)

    def maximum(
        self, start: Vector, along: Vector | None = None, tolerance: float = 1e-10
    ) -> FirthFit | None:
        """The highest point reached from `start` moving along the columns of `along` only
        (default: anywhere). None when `start` has no likelihood. The rows must hold two levels
        at least."""
        free = np.eye(len(start)) if along is None else along
        beta, here = start, self.evaluate(start)
        if here is None:
            return None
        for _ in range(200):
            higher = self._step(beta, here, free, tolerance)
            if higher is None:
                break
            beta, here = higher
        return FirthFit(beta, here.value, here.information)

    def _step(
        self, beta: Vector, here: _Evaluation, free: Vector, tolerance: float
    ) -> tuple[Vector, _Evaluation] | None:
        """A step along `free` that does not go down; None at the top."""
        curve, bound = (free.T @ each @ free for each in (here.information, self._most))
        slope = free.T @ here.gradient
        for damping in _DAMPING:
            step = _solved(curve + damping * bound, slope)
            if step is None:
                continue
            if damping == 0 and slope @ step < tolerance:
                return None
            there = self.evaluate(beta + free @ step)
            if there is not None and there.value >= here.value:
                return beta + free @ step, there
        return None


_SINGULAR = math.log(1e-12)
"""Logarithm of the share of its diagonal's product below which a determinant is rounding."""

_DAMPING = (0.0, *(10.0**power for power in range(-6, 10)))
"""How much of the bound is added to the information, tried in turn until a step goes up."""


def _undone(information: Vector) -> tuple[float, Vector] | None:
    """The log determinant of a symmetric matrix (k by k), and its inverse; None where the first is
    rounding or the second none. Two by two, as the curve of a level has it, by hand, which takes a
    tenth of the time."""
    if len(information) != 2:
        return _undone_by_factors(information)
    (a, b), (_, c) = information.tolist()
    det = a * c - b * b
    if not (0 < det < math.inf and a > 0):
        return None
    half = math.log(det)
    if half < _SINGULAR + math.log(a) + math.log(c):
        return None
    inverse = c / det, -b / det, a / det
    if not all(map(math.isfinite, inverse)):
        return None
    return half, np.array(((inverse[0], inverse[1]), (inverse[1], inverse[2])))


def _undone_by_factors(information: Vector) -> tuple[float, Vector] | None:
    """The same of a matrix of any size."""
    sign, half = np.linalg.slogdet(information)
    if sign <= 0 or not math.isfinite(half):
        return None
    if half < _SINGULAR + np.log(np.diagonal(information)).sum():
        return None
    inverse = np.linalg.inv(information).astype(np.float64)
    return (float(half), inverse) if np.isfinite(inverse).all() else None


def _solved(curve: Vector, slope: Vector) -> Vector | None:
    """The step `curve` gives for `slope`; None where rounding leaves it none that goes up. As in
    `_undone`, small matrices go by hand."""
    if len(curve) == 1:
        step = slope / curve[0, 0] if curve[0, 0] != 0 else None
    elif len(curve) == 2:
        (a, b), (d, c) = curve.tolist()
        det, (u, v) = a * c - b * d, slope.tolist()
        step = np.array(((c * u - b * v) / det, (a * v - d * u) / det)) if det != 0 else None
    else:
        step = _solved_by_factors(curve, slope)
    return step if step is not None and slope @ step >= 0 else None


def _solved_by_factors(curve: Vector, slope: Vector) -> Vector | None:
    try:
        return np.linalg.solve(curve, slope).astype(np.float64)
    except np.linalg.LinAlgError:
        return None


def find_root(
    drop: Callable[[float], float],
    inside: tuple[float, float],
    outside: tuple[float, float],
    *,
    tolerance: float = 1e-3,
) -> float:
    """Where `drop` passes 0 between `inside` and `outside`, each a place with its value there,
    below 0 and above 0. Regula falsi with the Illinois rule, which the nearly straight root
    of a deviance suits; `tolerance` is in units of `drop`."""
    ends = {False: inside, True: outside}
    last: bool | None = None
    place = inside[0]
    for _ in range(60):
        (low, at_low), (high, at_high) = ends[False], ends[True]
        place = high - at_high * (high - low) / (at_high - at_low)
        value = drop(place)
        if abs(value) < tolerance:
            break
        side = value > 0
        ends[side] = (place, value)
        if side == last:
            kept, at_kept = ends[not side]
            ends[not side] = (kept, at_kept / 2)
        last = side
    return place
