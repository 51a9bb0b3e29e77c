"""Shares with their intervals, and runs by luck."""

from __future__ import annotations

import random
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.analysis.statistics.proportion import Proportion, run_probability, wilson_interval
from voicelog.analysis.statistics.unknown import Unknown


@st.composite
def counts(draw: st.DrawFn) -> tuple[int, int]:
    of = draw(st.integers(1, 2000))
    return draw(st.integers(0, of)), of


@given(counts())
def test_the_interval_holds_the_share_and_stays_between_none_and_all(pair: tuple[int, int]) -> None:
    share = wilson_interval(*pair)
    assert isinstance(share, Proportion)
    assert 0 <= share.low <= share.share <= share.high <= 1
    assert share.high - share.low > 0
    assert (share.low == 0) == (share.count == 0)
    assert (share.high == 1) == (share.count == share.of)


@given(counts())
def test_what_was_not_done_has_the_interval_turned_over(pair: tuple[int, int]) -> None:
    count, of = pair
    done, undone = wilson_interval(count, of), wilson_interval(of - count, of)
    assert isinstance(done, Proportion)
    assert isinstance(undone, Proportion)
    assert (1 - undone.high, 1 - undone.low) == pytest.approx((done.low, done.high), abs=1e-12)


@given(counts())
def test_one_more_done_moves_both_ends_up(pair: tuple[int, int]) -> None:
    count, of = pair
    if count == of:
        return
    fewer, more = wilson_interval(count, of), wilson_interval(count + 1, of)
    assert isinstance(fewer, Proportion)
    assert isinstance(more, Proportion)
    assert fewer.low < more.low
    assert fewer.high <= more.high


def test_no_reps_have_no_share() -> None:
    assert wilson_interval(0, 0) == Unknown(code="no rep")


@pytest.mark.parametrize(("count", "of"), [(-1, 3), (4, 3), (0, -1)])
def test_impossible_counts_are_refused(count: int, of: int) -> None:
    with pytest.raises(ValueError, match="is no share"):
        wilson_interval(count, of)


def test_a_run_by_luck_is_as_often_as_when_it_is_played() -> None:
    chance, hits = random.Random(4), 0
    for _ in range(4000):
        passed = [sum(chance.random() < 0.6 for _ in range(5)) >= 4 for _ in range(6)]
        hits += any(a and b for a, b in pairwise(passed))
    assert run_probability(4, 5, 2, rate=0.6, within=6) == pytest.approx(hits / 4000, abs=0.03)


@given(st.integers(1, 10), st.integers(1, 4), st.integers(0, 8), st.floats(0, 1), st.floats(0, 1))
def test_luck_grows_with_the_rate_and_with_looking_and_falls_with_the_criterion(
    passes: int, sessions: int, more: int, one: float, other: float
) -> None:
    low, high = sorted((one, other))
    luck = run_probability(passes, 10, sessions, rate=low, within=sessions + more)
    assert 0 <= luck <= 1
    slack = 1e-9
    assert luck <= run_probability(passes, 10, sessions, rate=high, within=sessions + more) + slack
    assert (
        luck <= run_probability(passes, 10, sessions, rate=low, within=sessions + more + 1) + slack
    )
    assert luck >= run_probability(10, 10, sessions, rate=low, within=sessions + more) - slack
    alone = run_probability(passes, 10, rate=low)
    assert run_probability(passes, 10, sessions, rate=low) == pytest.approx(alone**sessions)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ({"passes": 0, "of": 3}, "0 of 3 is no criterion"),
        ({"passes": 4, "of": 3}, "4 of 3 is no criterion"),
        ({"passes": 1, "of": 3, "sessions": 0}, "0 sessions in a row cannot be within 0"),
        ({"passes": 1, "of": 3, "sessions": 3, "within": 2}, "3 sessions in a row cannot be"),
        ({"passes": 1, "of": 3, "rate": 1.2}, "rate 1.2 is not between 0 and 1"),
    ],
)
def test_impossible_criteria_are_refused(arguments: dict[str, Any], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        run_probability(**arguments)
