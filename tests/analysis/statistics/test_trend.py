"""Trends: what they keep to, and what is said instead of a slope."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.analysis.statistics.trend import MIN_VALUES, Trend, trend
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import unknown_words

SERIES = st.lists(
    st.tuples(st.integers(0, 60), st.integers(-20, 20)), min_size=MIN_VALUES, max_size=25
).filter(lambda pairs: len({t for t, _ in pairs}) > 1)


def told(pairs: Sequence[tuple[int, float]]) -> Trend:
    found = trend([t for t, _ in pairs], [v for _, v in pairs])
    assert isinstance(found, Trend)
    return found


@given(SERIES)
def test_the_slope_lies_in_its_interval_and_p_between_0_and_1(pairs: list[tuple[int, int]]) -> None:
    found = told(pairs)
    assert found.low <= found.slope <= found.high
    assert 0 < found.p <= 1
    assert found.of == len(pairs)
    if found.s == 0:
        assert found.p == 1


@given(SERIES, st.randoms(use_true_random=False))
def test_the_order_in_which_values_are_given_does_not_matter(
    pairs: list[tuple[int, int]], shuffler: random.Random
) -> None:
    mixed = list(pairs)
    shuffler.shuffle(mixed)
    assert told(mixed) == told(pairs)


@given(SERIES, st.integers(1, 5), st.integers(-9, 9))
def test_a_line_laid_over_the_values_adds_to_the_slope(
    pairs: list[tuple[int, int]], steep: int, level: int
) -> None:
    found = told(pairs)
    tilted = told([(t, v + steep * t + level) for t, v in pairs])
    assert tilted.slope == pytest.approx(found.slope + steep)
    assert (tilted.low, tilted.high) == pytest.approx(
        (found.low + steep, found.high + steep), abs=steep + 40
    )


@given(SERIES)
def test_turned_over_everything_changes_its_sign(pairs: list[tuple[int, int]]) -> None:
    found, over = told(pairs), told([(t, -v) for t, v in pairs])
    assert over.slope == pytest.approx(-found.slope)
    assert (over.s, over.p) == (-found.s, found.p)
    assert (over.low, over.high) == pytest.approx((-found.high, -found.low))


@pytest.mark.parametrize("of", [4, 5, 6, 7])
def test_the_exact_p_counts_all_orders(of: int) -> None:
    def s(order: tuple[int, ...]) -> int:
        return sum((b > a) - (b < a) for at, a in enumerate(order) for b in order[at + 1 :])

    every = [s(order) for order in permutations(range(of))]
    for order in random.Random(of).sample(list(permutations(range(of))), 10):
        found = trend(list(range(of)), order)
        assert isinstance(found, Trend)
        assert found.exact
        expected = sum(abs(each) >= abs(s(order)) for each in every) / math.factorial(of)
        assert found.p == pytest.approx(expected if s(order) else 1.0)


def test_one_odd_day_hardly_moves_the_slope() -> None:
    steady = [(day, 10 - 0.5 * day) for day in range(12)]
    odd = [(day, 400.0 if day == 6 else value) for day, value in steady]
    assert told(steady).slope == pytest.approx(-0.5)
    assert told(odd).slope == pytest.approx(-0.5)


def test_a_constant_series_has_no_slope_and_p_1() -> None:
    found = told([(day, 3.0) for day in range(6)])
    assert (found.slope, found.low, found.high, found.p, found.s) == (0, 0, 0, 1, 0)


def test_luck_alone_gives_small_p_as_often_as_p_says() -> None:
    chance = random.Random(2)
    small = sum(told([(d, chance.gauss(0, 1)) for d in range(12)]).p < 0.1 for _ in range(300))
    assert 15 <= small <= 45


def test_the_interval_holds_a_known_slope_about_as_often_as_it_says() -> None:
    chance, held = random.Random(3), 0
    for _ in range(200):
        found = told([(d, 0.2 * d + chance.gauss(0, 1)) for d in range(15)])
        held += found.low <= 0.2 <= found.high
    assert 180 <= held <= 199


@pytest.mark.parametrize(
    ("times", "values", "why"),
    [
        ([], [], "0 values; a trend needs 4."),
        ([1], [1], "1 value; a trend needs 4."),
        ([1, 2, 3], [1, 2, 3], "3 values; a trend needs 4."),
        ([5] * 6, [1, 2, 3, 4, 5, 6], "All values are of one time, so there is no trend to tell."),
    ],
)
def test_where_there_is_no_trend_a_sentence_says_why(
    times: list[float], values: list[float], why: str
) -> None:
    found = trend(times, values)
    assert isinstance(found, Unknown)
    assert (unknown_words(found), found.of) == (why, len(values))


def test_what_is_no_series_is_refused() -> None:
    with pytest.raises(ValueError, match="2 times for 1 values"):
        trend([1, 2], [1])
    with pytest.raises(ValueError, match="not finite"):
        trend([1, 2, 3, 4], [1, 2, 3, math.nan])
