"""A share whose sessions differ."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.known import known
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion, wilson_interval
from voicelog.analysis.statistics.unknown import Unknown

COUNTS = st.lists(
    st.integers(1, 12).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), min_size=1
)


def share(*counts: tuple[int, int]) -> Proportion:
    found = clustered_share(counts)
    assert isinstance(found, Proportion)
    return found


def test_reps_of_one_each_are_wilsons() -> None:
    each = [(1, 1)] * 6 + [(0, 1)] * 4
    wilson = wilson_interval(6, 10)
    assert isinstance(wilson, Proportion)
    found = share(*each)
    assert (found.low, found.high) == pytest.approx((wilson.low, wilson.high), rel=0.06)


def test_the_design_effect_of_two_sessions_by_hand() -> None:
    # 9 of 10 and 3 of 10: p = 0.6, (9-6)^2 + (3-6)^2 = 18, times 2 / 1, over 20 x 0.24: 7.5
    found = share((9, 10), (3, 10))
    wilson = wilson_interval(12, 20)
    assert isinstance(wilson, Proportion)
    # 20 / 7.5 = 2.667 reps: z^2 = 3.8415, middle (0.6 + 0.7203) / 2.4405 = 0.5410
    assert (found.low + found.high) / 2 == pytest.approx(0.5410, abs=1e-3)
    assert found.low < wilson.low < wilson.high < found.high


def test_no_rep_is_no_share() -> None:
    assert clustered_share([]) == Unknown(code="no rep")
    assert clustered_share([(0, 0)]) == Unknown(code="no rep")
    with pytest.raises(ValueError, match="no shares"):
        clustered_share([(3, 2)])
    with pytest.raises(ValueError, match="confidence"):
        clustered_share([(1, 2)], confidence=1)


@given(COUNTS)
def test_the_interval_holds_the_share_and_is_at_least_wilsons(
    counts: list[tuple[int, int]],
) -> None:
    found = share(*counts)
    assert 0 <= found.low <= found.share <= found.high <= 1
    wilson = known(wilson_interval(found.count, found.of))
    assert isinstance(wilson, Proportion)
    assert found.high - found.low >= wilson.high - wilson.low - 1e-9
