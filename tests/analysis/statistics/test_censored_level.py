"""What one rep says of the level, and how its pull on the curve adds up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.analysis.statistics.censored_level import (
    CensoredLevel,
    censored_level,
    levels_tried,
    rows,
    scores,
)
from voicelog.analysis.statistics.firth import Likelihood


@pytest.mark.parametrize(
    ("levels", "answered", "walk"),
    [
        ((3, 4, 5), True, CensoredLevel(4, 5)),
        ((3, 4, 5), False, CensoredLevel(5, None)),
        ((4,), True, CensoredLevel(None, 4)),
        ((4,), False, CensoredLevel(4, None)),
        ((4, 4, 4), True, CensoredLevel(None, 4)),
        ((3, 4, 4), True, CensoredLevel(3, 4)),
        ((3, 4, 5, 4, 3), True, CensoredLevel(4, 5)),  # rolled back while it came
        ((3, 6), True, CensoredLevel(3, 6)),  # two steps at once
        ((5, 3, 6), True, CensoredLevel(5, 6)),
    ],
)
def test_a_rep_lies_between_the_highest_ignored_and_the_answered(
    levels: tuple[int, ...], answered: bool, walk: CensoredLevel
) -> None:
    assert censored_level(levels, answered) == walk


def test_a_rep_without_a_press_is_no_walk() -> None:
    assert censored_level((), True) is None
    assert censored_level((), False) is None


@given(st.lists(st.integers(1, 20), min_size=1), st.booleans())
def test_every_rep_with_a_press_makes_a_walk_that_can_be_fitted(
    levels: list[int], answered: bool
) -> None:
    walk = censored_level(levels, answered)
    assert walk is not None
    assert set(levels_tried([walk])) <= set(levels)
    assert (walk.answered is not None) == answered
    assert max(levels) in walk


def probability(walk: CensoredLevel, middle: float, beta: np.ndarray) -> float:
    """What a walk counts, straight from the definition."""

    def reached(level: float) -> float:
        return 1 / (1 + math.exp(-(beta[0] + beta[1] * (level - middle))))

    low = 0.0 if walk.ignored is None else reached(walk.ignored)
    high = 1.0 if walk.answered is None else reached(walk.answered)
    return high - low


WALK = st.one_of(
    st.tuples(st.integers(1, 8), st.integers(1, 3)).map(lambda w: CensoredLevel(w[0], w[0] + w[1])),
    st.integers(1, 9).map(lambda x: CensoredLevel(x, None)),
    st.integers(1, 9).map(lambda x: CensoredLevel(None, x)),
)


@settings(deadline=None)
@given(st.lists(WALK, min_size=3, max_size=20), st.floats(-2, 2), st.floats(0.2, 3))
def test_the_rows_carry_the_chance_that_the_threshold_lies_in_between(
    walks: list[CensoredLevel], a: float, b: float
) -> None:
    """Likelihoods are compared up to a constant: against those at another curve, and without
    the penalty."""
    if len(levels_tried(walks)) < 2:
        return
    likelihood = Likelihood(rows(walks, 5.0))

    def ours(beta: np.ndarray) -> float:
        look = likelihood.evaluate(beta)
        assert look is not None
        return look.value - 0.5 * float(np.linalg.slogdet(look.information)[1])

    def straight(beta: np.ndarray) -> float:
        return sum(math.log(probability(walk, 5.0, beta)) for walk in walks)

    here, there = np.array([a, b]), np.array([0.0, 1.0])
    assert ours(here) - ours(there) == pytest.approx(straight(here) - straight(there), abs=1e-6)


@settings(deadline=None)
@given(st.lists(WALK, min_size=1, max_size=10), st.floats(-2, 2), st.floats(0.2, 3))
def test_pulls_are_the_slope_of_each_walks_likelihood(
    walks: list[CensoredLevel], a: float, b: float
) -> None:
    beta, small = np.array([a, b]), 1e-5
    pulls = scores(walks, 5.0, beta)
    assert pulls.shape == (len(walks), 2)
    for walk, pull in zip(walks, pulls, strict=True):
        for at in (0, 1):
            step = small * np.eye(2)[at]
            up, down = probability(walk, 5.0, beta + step), probability(walk, 5.0, beta - step)
            slope = (np.log(up) - np.log(down)) / (2 * small)
            assert pull[at] == pytest.approx(slope, abs=1e-4, rel=1e-4)
