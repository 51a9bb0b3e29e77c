"""Weights are those of the conditional logit that made the data, and keep the known signs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from training.candidates import Observation, Option
from training.evaluation import accepted, cross_validated, curve, judged
from training.fusion_weights import PENALTY, fit_weights, option_probabilities, rounded
from voicelog.recognition.features import IN_NOISE, SIGNS
from voicelog.recognition.fusion import FusionModel
from voicelog.recognition.quick_recognizer import AcceptanceThresholds

NAMES = ("constant", "fit", "fit in noise", "least", "noise")
TRUE = {"constant": 3.0, "fit": 2.0, "fit in noise": -1.0, "least": 0.5, "noise": -1.0}
BARS = AcceptanceThresholds(0.9, 0.3, 0.95, 0.99)


def made_up(weights: Mapping[str, float], count: int = 1500, seed: int = 0) -> list[Observation]:
    """Segments with up to three readings, of which the one said is drawn as the weights have it."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        noise = float(rng.choice([0.0, rng.uniform(0, 1)]))
        options = []
        for place in range(rng.integers(0, 4)):
            fit, least = -rng.gamma(2.0, 0.7), -rng.gamma(2.0, 1.0)
            features = {"constant": 1.0, "fit": fit, "fit in noise": fit * noise}
            features |= {"least": least, "noise": noise}
            options.append(Option(f"word {place}", str(place), False, False, features))
        one = Observation(f"v{number % 3}", "made up", 25 * (1 - noise), None, tuple(options))
        likely = option_probabilities(one, weights)
        said = int(rng.choice(len(options) + 1, p=[*likely, 1 - sum(likely)]))
        meaning = str(said) if said < len(options) else None
        found.append(
            Observation(one.voice, one.condition, one.above_noise_db, meaning, one.options)
        )
    return found


def test_the_weights_that_made_the_data_are_found_again() -> None:
    found = fit_weights(made_up(TRUE, 6000), NAMES)
    assert found == pytest.approx(TRUE, abs=0.35)


def test_without_signs_it_is_the_plain_penalised_fit() -> None:
    """The same loss, written out without noise, minimised by another method."""
    names = ("constant", "fit", "least")
    data = made_up({"constant": 2.0, "fit": -0.7, "least": 0.5}, 300)
    every = np.array([[o.features[name] for name in names] for one in data for o in one.options])
    mean, spread = every.mean(axis=0), every.std(axis=0)
    mean[0], spread[0] = 0.0, 1.0

    def loss(weights: np.ndarray) -> float:
        total = PENALTY * float(weights @ weights)
        for one in data:
            rows = [[o.features[name] for name in names] for o in one.options]
            scores = [float((np.array(row) - mean) / spread @ weights) for row in rows] + [0.0]
            total += math.log(sum(map(math.exp, scores))) - scores[one.right]
        return total

    best = minimize(loss, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-5}).x
    weights = best / spread
    weights[0] -= weights @ mean
    found = fit_weights(data, names, signs={})
    assert list(found.values()) == pytest.approx(weights.tolist(), abs=1e-2)
    assert found["fit"] < 0 <= fit_weights(data, names)["fit"]


@settings(max_examples=10, deadline=None)
@given(
    fit=st.floats(-2, 2), in_noise=st.floats(-4, 4), least=st.floats(-2, 2), seed=st.integers(0, 99)
)
def test_whatever_the_data_say_no_weight_has_the_wrong_sign_in_any_noise(
    fit: float, in_noise: float, least: float, seed: int
) -> None:
    data = made_up({**TRUE, "fit": fit, "fit in noise": in_noise, "least": least}, 150, seed)
    found = rounded(fit_weights(data, NAMES))
    for name, sign in SIGNS.items():
        if name in found:
            full = found[name] + found.get(IN_NOISE.get(name, ""), 0.0)
            assert sign * found[name] >= 0.0
            assert sign * full >= -1e-9


def test_to_a_teacher_of_right_signs_the_fit_is_the_teacher() -> None:
    data = made_up({**TRUE, "least": -1.0}, 400)
    assert fit_weights(data, NAMES, teacher=TRUE) == pytest.approx(TRUE, abs=1e-3)


def test_to_a_teacher_of_a_wrong_sign_in_noise_it_judges_in_quiet_as_before() -> None:
    teacher = {**TRUE, "fit in noise": -3.0, "noise": -5.0}
    found = fit_weights(made_up(teacher, 400), NAMES, teacher=teacher)
    for name in ("constant", "fit", "least"):
        assert found[name] == pytest.approx(teacher[name], abs=1e-9)


def test_to_a_teacher_of_a_wrong_sign_it_judges_as_alike_as_the_signs_allow() -> None:
    teacher = {**TRUE, "fit in noise": -3.0, "noise": -5.0}
    data = made_up(teacher, 1500)
    found = fit_weights(data, NAMES, teacher=teacher)
    assert found["fit"] + found["fit in noise"] == pytest.approx(0.0, abs=1e-9)

    def cross_entropy(weights: Mapping[str, float]) -> float:
        total = 0.0
        for one in data:
            wanted, likely = (option_probabilities(one, each) for each in (teacher, weights))
            pairs = zip((*wanted, 1 - sum(wanted)), (*likely, 1 - sum(likely)), strict=True)
            total -= sum(p * math.log(max(q, 1e-12)) for p, q in pairs)
        return total

    best = cross_entropy(found)
    for other in (found["noise"] - 0.3, found["noise"] + 0.3):
        assert best < cross_entropy({**found, "noise": other})
    assert best < cross_entropy({**teacher, "fit in noise": -teacher["fit"]})


def test_each_speaker_is_judged_by_a_fit_on_the_others() -> None:
    names = ("flite-slt", "fest-slt", "heart", "kok-kumo")
    data = [replace(one, voice=names[place % 4]) for place, one in enumerate(made_up(TRUE, 90))]
    seen: list[set[str]] = []

    def fit(part: object) -> Mapping[str, float]:
        seen.append({one.voice for one in part})  # type: ignore[attr-defined]
        return TRUE

    found = cross_validated(data, fit)
    assert seen.count(set(names)) == 2  # the folds that hold none of them
    assert set(names) - {"flite-slt", "fest-slt"} in seen  # one speaker, by two engines
    assert set(names) - {"heart"} in seen
    assert set(names) - {"kok-kumo"} in seen
    assert len(found) == sum(bool(one.options) for one in data)


def test_what_is_accepted_is_counted_by_condition_and_threshold() -> None:
    data = made_up(TRUE, 300)
    some = list(judged(data, TRUE))
    model = FusionModel(weights=TRUE, quiet=BARS, noisy=BARS)
    (counts,) = accepted(some, model).values()
    assert counts["right"] == sum(one.right and one.probability >= 0.9 for one in some)
    assert counts["wrong"] == sum(not one.right and one.probability >= 0.9 for one in some)


def test_the_curve_lets_through_no_more_wrong_ones_than_it_says() -> None:
    some = list(judged(made_up(TRUE, 300), TRUE))
    for wrong, right, least in curve(some):
        above = [one for one in some if one.probability >= least]
        assert sum(not one.right for one in above) <= wrong
        assert sum(one.right for one in above) == right
