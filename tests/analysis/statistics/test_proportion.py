"""Shares with their intervals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.analysis.statistics.proportion import Proportion, wilson_interval
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
