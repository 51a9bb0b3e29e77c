"""CUSUM: when it signals, when it stays quiet, and the sentence for it."""

from __future__ import annotations

import random
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from tests.known import known
from voicelog.analysis.statistics.cusum import Cusum, _t_tail, cusum, self_starting_cusum
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import cusum_words, unknown_words

VALUES = st.lists(st.floats(-100, 100), min_size=1, max_size=40)


@given(VALUES, st.floats(-5, 5), st.floats(0, 3), st.floats(0.1, 50))
def test_sums_never_fall_below_0_and_signal_as_soon_as_one_passes_the_limit(
    values: list[float], target: float, slack: float, limit: float
) -> None:
    found = cusum(values, target, slack, limit)
    assert min(found.above + found.below) >= 0
    over = [at for at in range(len(values)) if max(found.above[at], found.below[at]) > limit]
    assert found.signal == (over[0] if over else None)
    if found.signal is None:
        assert (found.began, found.direction) == (None, None)
        return
    assert found.began is not None
    assert 0 <= found.began <= found.signal
    sums = found.above if found.direction == "up" else found.below
    assert sums[found.signal] > limit
    assert all(sums[at] > 0 for at in range(found.began, found.signal + 1))
    assert found.began == 0 or sums[found.began - 1] == 0


@given(VALUES, st.floats(0, 3))
def test_turned_over_the_sums_change_places(values: list[float], slack: float) -> None:
    found, over = cusum(values, 0, slack, 5), cusum([-v for v in values], 0, slack, 5)
    assert (found.above, found.below) == (over.below, over.above)


def noise(seed: int, of: int) -> list[float]:
    chance = random.Random(seed)
    return [chance.gauss(2.0, 0.4) for _ in range(of)]


def test_a_change_is_found_with_its_beginning() -> None:
    values = noise(1, 14) + [value + 1.2 for value in noise(2, 8)]
    found = self_starting_cusum(values)
    assert isinstance(found, Cusum)
    assert found.direction == "up"
    assert abs(known(found.began) - 14) <= 1
    assert known(found.signal) > 14
    assert found.target == pytest.approx(2.0, abs=0.3)
    assert len(found.above) == len(found.below) == len(values)
    assert found.above[:8] == (0.0,) * 8


def test_values_that_never_changed_seldom_signal() -> None:
    """Not more than one dog in fifteen within twenty sessions after the first eight."""
    found = [self_starting_cusum(noise(seed, 28)) for seed in range(150)]
    assert sum(isinstance(each, Cusum) and each.signal is not None for each in found) < 150 / 15


def test_values_that_changed_much_mostly_signal() -> None:
    found = [
        self_starting_cusum(noise(seed, 12) + [v - 0.8 for v in noise(1000 + seed, 12)])
        for seed in range(60)
    ]
    assert sum(isinstance(each, Cusum) and each.direction == "down" for each in found) > 48


@given(st.floats(0.1, 20), st.floats(-50, 50), st.integers(0, 50))
def test_another_unit_changes_nothing_but_the_target(times: float, more: float, seed: int) -> None:
    values = noise(seed, 14) + [value + 1.5 for value in noise(seed + 1, 6)]
    one, other = (
        self_starting_cusum(values),
        self_starting_cusum([times * value + more for value in values]),
    )
    assert isinstance(one, Cusum)
    assert isinstance(other, Cusum)
    assert other.above == pytest.approx(one.above, abs=1e-6)
    assert other.target == pytest.approx(times * one.target + more, abs=1e-6)


@pytest.mark.parametrize("degrees", [1, 2, 3, 7, 8, 30])
@pytest.mark.parametrize("t", [0.0, 0.3, 2.0, 9.0])
def test_the_tail_of_students_t_is_that_of_scipy(t: float, degrees: int) -> None:
    assert _t_tail(t, degrees) == pytest.approx(student.sf(t, degrees), abs=1e-12)


def test_a_change_and_none_in_a_sentence() -> None:
    days = [date(2031, 5, day) for day in range(1, 11)]
    values = [2.0, 2.2, 1.8, 2.0, 2.2, 1.8, 9.0, 9.0, 9.0, 9.0]
    moved = cusum(values, target=2, slack=0.2, limit=10)
    assert cusum_words("Time to turn (s)", moved, days) == (
        "Time to turn (s) has run above the earlier 2 since 7 May 2031; by 8 May 2031 that was "
        "more than chance makes likely."
    )
    still = cusum(values[:6], target=2, slack=0.2, limit=10)
    assert cusum_words("Time to turn (s)", still, days) == (
        "Time to turn (s) shows no lasting change from 2."
    )


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ([], "0 values; a change can be told from 9 on, the first 8 being what it is compared"),
        ([1.0], "1 value; a change can be told from 9 on, the first 8 being what it is compared"),
        ([1.0] * 8, "8 values; a change can be told from 9 on, the first 8 being what it is"),
        ([3.0] * 9, "The first 8 values are all 3, so what is chance and what is change cannot"),
    ],
)
def test_where_no_change_can_be_told_a_sentence_says_why(values: list[float], why: str) -> None:
    found = self_starting_cusum(values)
    assert isinstance(found, Unknown)
    assert unknown_words(found).startswith(why)
    assert found.of == len(values)


def test_what_cannot_be_summed_is_refused() -> None:
    with pytest.raises(ValueError, match="a slack of -1"):
        cusum([1.0], 0, -1, 5)
    with pytest.raises(ValueError, match="a value is not finite"):
        cusum([float("nan")], 0, 1, 5)
    with pytest.raises(ValueError, match="a baseline of 2 is too short"):
        self_starting_cusum([1.0, 2.0, 3.0], 2)
