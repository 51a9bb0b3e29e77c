"""The levels of reps as interval-censored data, against R's `survreg`.

A rep ignored at 3 and answered at 4 says that the level lies between: without Firth's penalty that
is the logistic model of `survreg(Surv(lo, hi, type = "interval2") ~ 1, dist = "logistic")`, with
mu = -a / b and scale = 1 / b (the R package survival by T. M. Therneau). The values below are what
R 4.2.2 with survival 3.5.3 made of the walks that `walked` draws.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from tests.known import known
from voicelog.analysis.statistics.censored_level import CensoredLevel, rows, scores
from voicelog.analysis.statistics.firth import Likelihood
from voicelog.analysis.statistics.logistic_curve import LogisticCurve, fit_levels


def walked(seed: int, many: int) -> list[CensoredLevel]:
    """Reps of a dog that answers at 5 in the middle, spread 1: each walked up from somewhere, one
    to three levels at a time, three presses at most."""
    chance = random.Random(seed)
    found = []
    for _ in range(many):
        share = chance.random()
        answers = 5.0 + math.log(share / (1 - share))
        level, ignored, answered = float(chance.randint(1, 6)), None, None
        for _ in range(3):
            if level >= answers:
                answered = level
                break
            ignored = level
            level += chance.randint(1, 3)
        found.append(CensoredLevel(ignored, answered))
    return found


SURVREG = {
    (1, 40): (5.3970290334, 0.9141895400, -38.5615798208, 0.2902276),
    (2, 150): (4.9506291054, 0.9799035111, -149.0175529170, 0.15927929),
    (3, 600): (4.7321204144, 1.0135637466, -602.5277574929, 0.08244804),
}
"""Seed and reps: mu, scale, log-likelihood, and the standard error of mu."""


@pytest.mark.parametrize("case", SURVREG)
def test_the_likelihood_is_that_of_survreg_and_highest_where_it_says(case: tuple[int, int]) -> None:
    mu, scale, highest, error = SURVREG[case]
    walks, middle = walked(*case), 5.0
    beta = np.array([(middle - mu) / scale, 1 / scale])
    here = known(Likelihood(rows(walks, middle)).evaluate(beta))
    penalty = 0.5 * np.linalg.slogdet(here.information)[1]
    assert here.value - penalty == pytest.approx(highest, abs=1e-6)
    assert scores(walks, middle, beta).sum(axis=0) == pytest.approx([0, 0], abs=2e-4)
    toward = np.array([-1.0, middle - mu]) * scale  # d mu / d (a, b), with b = 1 / scale
    variance = toward @ np.linalg.inv(here.information) @ toward
    assert math.sqrt(variance) == pytest.approx(error, rel=1e-4)


@pytest.mark.parametrize("case", SURVREG)
def test_firths_penalty_moves_the_middle_level_by_a_small_part_of_its_error(
    case: tuple[int, int],
) -> None:
    mu, scale, _, error = SURVREG[case]
    fit = fit_levels(walked(*case))
    assert isinstance(fit, LogisticCurve)
    assert abs(known(fit.levels[0].value) - mu) < 0.1 * error
    assert 1 / fit.slope == pytest.approx(scale, rel=2.5 / case[1])
