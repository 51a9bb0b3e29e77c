"""Points of sessions: what they are worth, that luck earns none on the average, and their walk."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom, binom

from voicelog.analysis.statistics.session_evidence import (
    FULL,
    GOOD,
    POOR,
    CallRate,
    chance_of_full,
    running_points,
    session_points,
)


def beta_law(dog: CallRate) -> tuple[float, float]:
    weight = (1 - dog.spread) / dog.spread
    return dog.rate * weight, (1 - dog.rate) * weight


def ways(met: int, of: int, dog: CallRate) -> float:
    """scipy's chance of so many of so many."""
    if dog.spread == 0:
        return float(binom.pmf(met, of, dog.rate))
    return float(betabinom.pmf(met, of, *beta_law(dog)))


@pytest.mark.parametrize("of", [1, 3, 10, 15, 40])
def test_points_are_the_ratio_of_two_beta_binomial_chances(of: int) -> None:
    for met in range(of + 1):
        ratio = ways(met, of, GOOD) / ways(met, of, POOR)
        assert session_points(met, of) == pytest.approx(50 * math.log10(ratio), abs=1e-6)


def test_ten_calls_in_points_as_the_papers_print_them() -> None:
    assert [round(session_points(met, 10)) for met in (10, 9, 8, 7, 5)] == [30, 18, 7, -4, -29]
    assert session_points(0, 0) == 0


@pytest.mark.parametrize("rate", [0.3, 0.5, 0.6])
@pytest.mark.parametrize("spread", [0.0, 0.01, 0.05, 0.1, 0.15, 0.2])
def test_on_the_average_no_session_is_evidence_for_a_poor_dog(rate: float, spread: float) -> None:
    """The mean of the ratio is 1 at most, for any number of calls: it is an e-value."""
    dog = CallRate(rate, spread)
    for of in (*range(1, 16), 25, 60):
        ratio = math.fsum(
            ways(met, of, dog) * 10 ** (session_points(met, of) / 50) for met in range(of + 1)
        )
        assert ratio <= 1 + 1e-9, of


def test_leaving_off_after_a_good_call_earns_nothing() -> None:
    """Up to fifteen calls, left off at the first answered from the third on, by a dog at 0.6 and
    0.2: the mean ratio is still 1."""
    alpha, beta = beta_law(POOR)
    total = 0.0
    left = {(0, 0): 1.0}
    while left:
        (met, of), chance = left.popitem()
        on = (met + alpha) / (of + alpha + beta)
        for step, likely in ((1, on), (0, 1 - on)):
            state = met + step, of + 1
            if state[1] == 15 or (state[1] >= 3 and step):
                total += chance * likely * 10 ** (session_points(*state) / 50)
            else:
                left[state] = left.get(state, 0.0) + chance * likely
    assert total == pytest.approx(1.0)


@given(st.integers(1, 60), st.data())
def test_one_more_answered_is_worth_more(of: int, data: st.DataObject) -> None:
    met = data.draw(st.integers(0, of - 1))
    assert session_points(met, of) < session_points(met + 1, of)


COUNTS = st.lists(
    st.integers(1, 15).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), max_size=12
)


@given(COUNTS, COUNTS)
def test_points_stay_between_none_and_full_and_an_older_past_never_costs_any(
    before: list[tuple[int, int]], counts: list[tuple[int, int]]
) -> None:
    alone, whole = running_points(counts), running_points([*before, *counts])
    assert all(0 <= points <= FULL for points in whole)
    assert all(a <= b + 1e-9 for a, b in zip(alone, whole[len(before) :], strict=True))


def test_one_bad_session_after_full_points_is_seen_at_once() -> None:
    points = running_points([(10, 10)] * 30 + [(5, 10)])
    assert points[-2] == FULL
    assert points[-1] == pytest.approx(FULL + session_points(5, 10))


@pytest.mark.parametrize("of", [3, 8, 15, 40])
@pytest.mark.parametrize("spread", [0.0, 0.1, 0.2])
def test_a_poor_dog_has_enough_in_one_of_twenty_looks_in_under_one_case_in_twenty(
    of: int, spread: float
) -> None:
    chances = [chance_of_full(of, 20, CallRate(rate, spread)) for rate in (0.5, 0.6)]
    assert chances[0] < chances[1] <= 0.05


def test_the_chance_is_that_of_playing_it() -> None:
    chance, runs, full = random.Random(5), 4000, 0
    alpha, beta = beta_law(POOR)
    for _ in range(runs):
        rates = [chance.betavariate(alpha, beta) for _ in range(20)]
        counts = [(sum(chance.random() < rate for _ in range(10)), 10) for rate in rates]
        full += max(running_points(counts)) == FULL
    assert full / runs == pytest.approx(chance_of_full(10, 20), abs=0.012)
    assert full / runs <= chance_of_full(10, 20) + 0.006


def test_what_is_no_count_is_refused() -> None:
    for met, of in ((-1, 3), (4, 3)):
        with pytest.raises(ValueError, match="is no share"):
            session_points(met, of)
    with pytest.raises(ValueError, match="0 sessions of 10 calls"):
        chance_of_full(10, 0)
