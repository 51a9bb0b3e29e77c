"""Fit what each feature of a reading weighs (recognition/features.py), on observations of `tune`.

A penalised conditional logit: with the scores s of a segment's readings, and 0 for "none of these",

    loss(w) = - sum over segments of ln P(the right one) + PENALTY * |w - w0|^2

with w for features of spread 1, and w0 where the penalty draws them to: 0, or known weights.

**Signs.** What a feature means is known before any fit (SIGNS): more speech under no word never
speaks for a reading, a better fit never against it. Left free, features that go together share
their effect at will, and one of them may get the wrong sign, which fits the tuning recordings and
is false of others. So those weights are bounded (L-BFGS-B; Byrd, Lu, Nocedal and Zhu, SIAM J. Sci.
Comput. 16(5):1190-1208, 1995). A feature that may weigh otherwise in noise is two features, x and
x times noise; they are fitted as its weight in quiet, of x (1 - noise), and in full noise, of
x noise, each with the bound, so that in any noise between it has the sign too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from training.candidates import Observation
from voicelog.recognition.features import IN_NOISE, SIGNS, probabilities

__all__ = ["FEATURES", "PENALTY", "fit_weights", "option_probabilities", "rounded"]

PENALTY = 0.15

_QUICK = (
    *("quick", "repeat_agreement", "fit", "fit in noise", "least", "unaligned_s"),
    *("unaligned in noise", "constant", "single", "loud"),
)
_PHONES = (
    *("phones first", "score_behind_best", "score_per_phone", "score_between_words"),
    *("uncertainty_per_phone", "noise"),
)
FEATURES: Mapping[str, tuple[str, ...]] = {
    "quick": (*_QUICK, "phones", "repeat_agreement in noise", "pace", "noise"),
    "careful": ("constant", "single", "loud", *_PHONES),
    "unaligned": ("constant", "quick", "single", "loud", *_PHONES),
    "both": (*_QUICK, *_PHONES),
}
"""What is known of a reading, by who hears: the quick recognizer alone, the careful one alone, both
where the quick one cannot align, both."""

_ONLY_IN_NOISE = frozenset(("noise", *IN_NOISE.values()))

Floats = NDArray[np.float64]


def fit_weights(
    observations: Sequence[Observation],
    names: Sequence[str],
    *,
    teacher: Mapping[str, float] | None = None,
    signs: Mapping[str, int] = SIGNS,
) -> dict[str, float]:
    """The weights of greatest penalised likelihood, for features as they are.

    names: the features to weigh; "constant" must be among them.
    teacher: known weights. Then what was said is not looked at: the probabilities are fitted to
        those that the known weights give, and the penalty draws to them. Only weights move that
        have the wrong sign, and those that tell in noise alone: so in quiet what had the right
        signs judges as before, and in noise as like it as the signs allow.
    signs: 1 or -1 for features whose weight must not have the other sign, in quiet and in noise.
    """
    problem = _Problem.of(observations, names, centred=teacher is None)
    start = problem.to_fitted(teacher) if teacher is not None else np.zeros(len(names))
    targets = problem.said if teacher is None else problem.probabilities(start)
    bounds = [_bounds(name, signs) for name in names]
    if teacher is not None:
        bounds = [
            bound if name in _ONLY_IN_NOISE or not _within(weight, bound) else (weight, weight)
            for name, weight, bound in zip(names, start.tolist(), bounds, strict=True)
        ]
    lows = np.array([-np.inf if low is None else low for low, _ in bounds])
    highs = np.array([np.inf if high is None else high for _, high in bounds])

    def loss(weights: Floats) -> tuple[float, Floats]:
        away = weights - start
        value, slope = problem.cross_entropy(targets, weights)
        return value + PENALTY * float(away @ away), slope + 2 * PENALTY * away

    found = minimize(loss, np.clip(start, lows, highs), jac=True, method="L-BFGS-B", bounds=bounds)
    return problem.to_weights(found.x)


def rounded(weights: Mapping[str, float]) -> dict[str, float]:
    """Weights to two decimals; what a feature weighs in full noise is rounded too, and keeps its
    sign so."""
    found = {name: round(weight, 2) for name, weight in weights.items()}
    for name, in_noise in IN_NOISE.items():
        if in_noise in weights:
            full = round(weights[name] + weights[in_noise], 2)
            found[in_noise] = round(full - found[name], 2)
    return found


def option_probabilities(
    observation: Observation, weights: Mapping[str, float]
) -> tuple[float, ...]:
    """How likely each option is right, in order, as the program counts it."""
    return probabilities(
        [sum(w * one.features[name] for name, w in weights.items()) for one in observation.options]
    )


@dataclass(frozen=True)
class _Problem:
    """Observations as arrays.

    names: the features. mean, spread: of each over all options, in the fitted basis, where
    features in noise are told apart from those in quiet; the mean is 0 unless centred.
    table: (segments, most options, features)
    with padding, scaled. present: (segments, most options). said: (segments, most options + 1),
    1 for the right option, or for "none of these" in the last place, else 0.
    """

    names: tuple[str, ...]
    mean: Floats
    spread: Floats
    table: Floats
    present: NDArray[np.bool_]
    said: Floats

    @classmethod
    def of(
        cls, observations: Sequence[Observation], names: Sequence[str], *, centred: bool
    ) -> _Problem:
        most = max(1, *(len(one.options) for one in observations))
        table = np.zeros((len(observations), most, len(names)))
        present = np.zeros((len(observations), most), np.bool_)
        for row, one in enumerate(observations):
            for place, option in enumerate(one.options):
                table[row, place] = [option.features[name] for name in names]
                present[row, place] = True
        for name, in_noise in _split(names):
            table[:, :, name] -= table[:, :, in_noise]
        every = table[present] if present.any() else np.zeros((1, len(names)))
        mean, spread = every.mean(axis=0), every.std(axis=0) + 1e-9
        constant = list(names).index("constant")
        mean[constant], spread[constant] = 0.0, 1.0
        if not centred:
            mean[:] = 0.0
        table = np.where(present[:, :, None], (table - mean) / spread, 0.0)
        said = np.zeros((len(observations), most + 1))
        for row, one in enumerate(observations):
            said[row, one.right] = 1.0  # -1, none of these, is the last place
        return cls(tuple(names), mean, spread, table, present, said)

    def probabilities(self, weights: Floats) -> Floats:
        """Of each option, and of "none of these": (segments, most options + 1)."""
        scores = np.where(self.present, self.table @ weights, -np.inf)
        scores = np.concatenate((scores, np.zeros((len(scores), 1))), axis=1)
        shares = np.exp(scores - scores.max(axis=1, keepdims=True))
        return np.asarray(shares / shares.sum(axis=1, keepdims=True))

    def cross_entropy(self, targets: Floats, weights: Floats) -> tuple[float, Floats]:
        """- sum of targets times ln of the probabilities (nats), and its slope by each weight."""
        likely = self.probabilities(weights)
        value = -float((targets * np.log(np.maximum(likely, 1e-12))).sum())
        return value, np.einsum("so,sof->f", (likely - targets)[:, :-1], self.table)

    def to_weights(self, fitted: Floats) -> dict[str, float]:
        """Weights of the features as they are, from those of the fitted basis."""
        weights = fitted / self.spread
        weights[self.names.index("constant")] -= float(weights @ self.mean)
        for name, in_noise in _split(self.names):
            weights[in_noise] -= weights[name]
        return dict(zip(self.names, map(float, weights), strict=True))

    def to_fitted(self, weights: Mapping[str, float]) -> Floats:
        """The inverse of `to_weights`."""
        fitted = np.array([weights[name] for name in self.names])
        for name, in_noise in _split(self.names):
            fitted[in_noise] += fitted[name]
        fitted[self.names.index("constant")] += float(fitted @ self.mean)
        return fitted * self.spread


def _within(weight: float, bound: tuple[float | None, float | None]) -> bool:
    low, high = bound
    return (low is None or weight >= low) and (high is None or weight <= high)


def _bounds(name: str, signs: Mapping[str, int]) -> tuple[float | None, float | None]:
    """Between which values the fitted weight of a feature must lie."""
    plain = {in_noise: plain for plain, in_noise in IN_NOISE.items()}.get(name, name)
    sign = signs.get(plain, 0)
    return (0.0 if sign > 0 else None, 0.0 if sign < 0 else None)


def _split(names: Sequence[str]) -> list[tuple[int, int]]:
    """The places of each feature that may weigh otherwise in noise, and of its part in noise."""
    places = {name: place for place, name in enumerate(names)}
    return [
        (places[name], places[in_noise])
        for name, in_noise in IN_NOISE.items()
        if name in places and in_noise in places
    ]
