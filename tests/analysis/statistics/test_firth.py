"""The penalised likelihood: its gradient, its maximum, and where a drop passes a bound."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.known import known
from voicelog.analysis.statistics.firth import (
    BinomialRows,
    Likelihood,
    Vector,
    _solved,
    _solved_by_factors,
    _undone,
    _undone_by_factors,
    expit,
    find_root,
)

LEVELS = np.array([3.0, 4.0, 5.0, 6.0])


def likelihood(events: Vector, trials: Vector, pairs: tuple[float, ...] = (3.0, 1.0)) -> Likelihood:
    design = np.column_stack([np.ones(4), LEVELS - 4.5])
    return Likelihood(BinomialRows(design, events, trials, np.array([1.0, 2.0]), np.array(pairs)))


EVENTS = st.tuples(*[st.integers(0, 3)] * 4).map(lambda e: np.array(e, dtype=float))


@settings(deadline=None)
@given(EVENTS, EVENTS, st.floats(-2, 2), st.floats(0.3, 3))
def test_the_gradient_is_the_slope_of_the_value(
    events: np.ndarray, failures: np.ndarray, a: float, b: float
) -> None:
    if (events + failures)[:2].sum() == 0 or (events + failures)[2:].sum() == 0:
        return
    surface, beta, small = likelihood(events, events + failures), np.array([a, b]), 1e-5
    look = surface.evaluate(beta)
    assert look is not None
    for at in (0, 1):
        step = small * np.eye(2)[at]
        above, below = known(surface.evaluate(beta + step)), known(surface.evaluate(beta - step))
        slope = (above.value - below.value) / (2 * small)
        assert look.gradient[at] == pytest.approx(slope, abs=1e-4, rel=1e-4)


@given(
    st.lists(st.integers(-9, 9), min_size=3, max_size=3),
    st.floats(-8, 8),
    st.lists(st.floats(-3, 3), min_size=2, max_size=2),
)
def test_two_coefficients_go_by_hand_as_by_factors(
    root: list[int], size: float, slope: list[float]
) -> None:
    a, b, c = root
    matrix = 10.0**size * np.array([[a * a + b * b, b * c], [b * c, c * c]], dtype=float)
    by_hand, by_factors = _undone(matrix), _undone_by_factors(matrix)
    assert (by_hand is None) == (by_factors is None)
    if by_hand is None or by_factors is None:
        return
    assert by_hand[0] == pytest.approx(by_factors[0], rel=1e-12, abs=1e-11)
    assert by_hand[1] == pytest.approx(by_factors[1], rel=1e-11, abs=1e-11 * 10.0**-size)
    step = known(_solved(matrix, np.array(slope)))
    assert step == pytest.approx(
        known(_solved_by_factors(matrix, np.array(slope))), rel=1e-10, abs=1e-10 * 10.0**-size
    )


@settings(deadline=None)
@given(EVENTS, EVENTS)
def test_no_place_around_a_maximum_is_higher(events: np.ndarray, failures: np.ndarray) -> None:
    if (events + failures)[:2].sum() == 0 or (events + failures)[2:].sum() == 0:
        return
    surface = likelihood(events, events + failures)
    best = surface.maximum(np.array([0.0, 1.0]))
    assert best is not None
    for direction in np.linspace(0, 2 * math.pi, 8, endpoint=False):
        for far in (0.01, 0.3):
            step = far * np.array([math.cos(direction), math.sin(direction)])
            look = surface.evaluate(best.beta + step)
            assert look is None or look.value <= best.value + 1e-9


@pytest.mark.parametrize("far", [20.0, 40.0, 200.0, 700.0])
def test_the_maximum_is_found_from_where_the_information_rounds_to_nothing(far: float) -> None:
    design = np.column_stack([np.ones(4), LEVELS - 4.5])
    surface = Likelihood(BinomialRows(design, np.array([0.0, 0, 1, 3]), np.array([4.0, 4, 4, 4])))
    best = surface.maximum(np.array([0.0, 1.0]))
    start = np.array([far / 4, far])
    while surface.evaluate(start) is None:
        start /= 2
    away = surface.maximum(start)
    assert best is not None
    assert away is not None
    assert away.beta == pytest.approx(best.beta, abs=1e-4)


@pytest.mark.parametrize(
    ("levels", "events", "failures", "beta"),
    [
        ((-7, -6, 0, 1, 2, 3, 4, 5, 6, 7), (0, 0, 0, 0, 0, 0, 0, 0, 0, 2),
         (1, 1, 1, 3, 1, 2, 2, 3, 4, 0), (-12431.67203843, -1880.40987955)),
        ((-44.5, -43.5, -42.5, -24.5, -23.5, 44.5), (0, 0, 0, 1, 1, 1), (8, 7, 14, 0, 0, 0),
         (26.40944114, -30.3689757)),
    ],
)  # fmt: skip
def test_where_the_inverse_of_the_information_overflows_there_is_no_likelihood(
    levels: tuple[float, ...],
    events: tuple[int, ...],
    failures: tuple[int, ...],
    beta: tuple[float, ...],
) -> None:
    design = np.column_stack([np.ones(len(levels)), np.array(levels, dtype=float)])
    happened = np.array(events, dtype=float)
    surface = Likelihood(BinomialRows(design, happened, happened + np.array(failures, dtype=float)))
    assert surface.evaluate(np.array(beta)) is None


def test_pairs_from_one_threshold_leave_no_likelihood_for_a_slope_that_falls() -> None:
    surface = likelihood(np.ones(4), 2 * np.ones(4))
    assert surface.evaluate(np.array([0.0, -0.5])) is None
    assert surface.maximum(np.array([0.0, 0.0])) is None


@given(st.floats(0.1, 50), st.floats(0.01, 0.99))
def test_a_crossing_is_found_between_its_ends(far: float, where: float) -> None:
    place = far * where

    def drop(x: float) -> float:
        return math.copysign(math.sqrt(abs(x - place)), x - place)

    found = find_root(drop, (0.0, drop(0.0)), (far, drop(far)), tolerance=1e-6)
    assert found == pytest.approx(place, abs=1e-6 * far)


def test_expit_is_quiet_far_out() -> None:
    with np.errstate(all="raise"):
        assert expit(np.array([-1e6, 0.0, 1e6])) == pytest.approx([0.0, 0.5, 1.0])
