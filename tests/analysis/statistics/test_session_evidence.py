"""Points of sessions: what they are worth, that luck earns none on the average, and their walk."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import betabinom, binom

from voicelog.analysis.statistics.session_evidence import (
    CARRY,
    FULL,
    FULL_RATIO,
    GOOD,
    POOR,
    CallRate,
    running_points,
    session_points,
)

NONE = (0, 0)


def beta_law(dog: CallRate, before: tuple[int, int] = NONE) -> tuple[float, float]:
    weight = (1 - dog.spread) / dog.spread
    return (
        dog.rate * weight + CARRY * before[0],
        (1 - dog.rate) * weight + CARRY * (before[1] - before[0]),
    )


def ways(met: int, of: int, dog: CallRate, before: tuple[int, int] = NONE) -> float:
    """scipy's chance of so many of so many, after such a session."""
    if dog.spread == 0:
        return float(binom.pmf(met, of, dog.rate))
    return float(betabinom.pmf(met, of, *beta_law(dog, before)))


def points(ratio: float) -> float:
    return 100 * math.log(ratio, FULL_RATIO)


def ratio(points: float) -> float:
    return float(FULL_RATIO ** (points / 100))


@pytest.mark.parametrize("of", [1, 3, 10, 15, 40])
def test_points_are_the_ratio_of_two_beta_binomial_chances(of: int) -> None:
    for met in range(of + 1):
        alone = points(ways(met, of, GOOD) / ways(met, of, POOR))
        assert session_points(met, of) == pytest.approx(alone, abs=1e-6)
        for before in ((0, 4), (4, 4), (9, 10), (40, 40)):
            carried = points(ways(met, of, GOOD, before) / ways(met, of, POOR, before))
            least = min(alone, max(0.0, carried)) if alone > 0 else alone
            assert session_points(met, of, before) == pytest.approx(least, abs=1e-6)


def test_ten_calls_in_points_as_the_papers_print_them() -> None:
    assert [round(session_points(met, 10)) for met in (10, 9, 8, 7, 5)] == [30, 18, 7, -4, -29]
    after = [round(session_points(met, 10, (10, 10))) for met in (10, 9, 8, 7, 5)]
    assert after == [17, 7, 0, -4, -29]
    assert session_points(0, 0) == 0


@pytest.mark.parametrize("rate", [0.3, 0.5, 0.6])
@pytest.mark.parametrize("spread", [0.0, 0.01, 0.05, 0.1, 0.15, 0.2])
def test_on_the_average_no_session_is_evidence_for_a_poor_dog(rate: float, spread: float) -> None:
    """The mean of the ratio is 1 at most, for any number of calls: it is an e-value."""
    dog = CallRate(rate, spread)
    for of in (*range(1, 16), 25, 60):
        mean = math.fsum(
            ways(met, of, dog) * ratio(session_points(met, of)) for met in range(of + 1)
        )
        assert mean <= 1 + 1e-9, of


def test_after_a_good_session_a_good_one_says_less_and_a_bad_one_buys_nothing() -> None:
    for met in range(11):
        plain = session_points(met, 10)
        after = session_points(met, 10, (10, 10))
        assert after < plain if plain > 0 else after == plain
        assert session_points(met, 10, (0, 10)) == pytest.approx(plain)


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
                total += chance * likely * ratio(session_points(*state))
            else:
                left[state] = left.get(state, 0.0) + chance * likely
    assert total == pytest.approx(1.0)


@given(st.integers(1, 60), st.data())
def test_one_more_answered_is_worth_more(of: int, data: st.DataObject) -> None:
    met = data.draw(st.integers(0, of - 1))
    before = data.draw(st.integers(0, 20)), 20
    assert session_points(met, of) < session_points(met + 1, of)
    assert session_points(met, of, before) <= session_points(met + 1, of, before)


COUNTS = st.lists(
    st.integers(1, 15).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), max_size=12
)


@given(COUNTS, COUNTS)
@settings(max_examples=60)
def test_points_stay_between_none_and_full_and_an_older_past_costs_but_the_carry(
    before: list[tuple[int, int]], counts: list[tuple[int, int]]
) -> None:
    alone = [one.total for one in running_points([(0, 10), *counts])]
    whole = [one.total for one in running_points([*before, (0, 10), *counts])][len(before) :]
    assert all(0 <= total <= FULL for total in whole)
    assert all(a <= b + 1e-9 for a, b in zip(alone, whole, strict=True))


@given(COUNTS.filter(len), st.data())
@settings(max_examples=100)
def test_one_more_answered_never_costs_a_point_then_or_later(
    counts: list[tuple[int, int]], data: st.DataObject
) -> None:
    """For what a good day carries over is less than what it earned."""
    at = data.draw(st.sampled_from(range(len(counts))))
    met, of = counts[at]
    better = [*counts[:at], (min(met + 1, of), of), *counts[at + 1 :]]
    for one, other in zip(running_points(counts), running_points(better), strict=True):
        assert one.total <= other.total + 1e-9


def test_one_bad_session_after_full_points_is_seen_at_once() -> None:
    totals = [one.total for one in running_points([(10, 10)] * 30 + [(5, 10)])]
    assert totals[-2] == FULL
    assert totals[-1] == pytest.approx(FULL + session_points(5, 10))


def test_what_is_no_count_is_refused() -> None:
    for met, of in ((-1, 3), (4, 3)):
        with pytest.raises(ValueError, match="is no share"):
            session_points(met, of)
    with pytest.raises(ValueError, match="4 of 3 is no share"):
        session_points(3, 3, (4, 3))
