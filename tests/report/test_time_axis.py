"""The time axis: days to scale, ticks on days a person would name, labels that do not touch."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from voicelog.report.time_axis import LABEL_GAP, TimeAxis, spread, text_width, window_start

days = st.dates(date(1990, 1, 1), date(2090, 1, 1))
widths = st.floats(200.0, 900.0)


@st.composite
def axes(draw: st.DrawFn) -> TimeAxis:
    first = draw(days)
    span = draw(st.one_of(st.integers(0, 120), st.integers(0, 4000), st.integers(0, 36000)))
    left = draw(st.floats(0.0, 120.0))
    last = first + timedelta(days=span)
    return TimeAxis(first, last, left, left + draw(widths), months=draw(st.booleans()))


@given(axes())
@example(TimeAxis(date(2031, 3, 1), date(2031, 3, 1), 78, 314))
@example(TimeAxis(date(2030, 12, 29), date(2031, 1, 4), 78, 638))
def test_ticks_lie_on_the_axis_in_order_and_their_labels_apart(axis: TimeAxis) -> None:
    ticks = axis.ticks
    assert ticks
    for tick in ticks:
        assert axis.first <= tick.day <= axis.last
        assert axis.left <= tick.x <= axis.right
        assert tick.x == axis.x(tick.day)
    for one, other in pairwise(ticks):
        assert one.day < other.day
        room = (text_width(one.label) + text_width(other.label)) / 2
        assert other.x - one.x >= room + LABEL_GAP - 1e-6
    for one_year, other_year in pairwise(axis.years):
        assert other_year.x - one_year.x >= text_width(one_year.label) + LABEL_GAP - 1e-6
        assert int(one_year.label) < int(other_year.label)


@given(axes())
def test_ticks_stand_on_days_that_a_person_names(axis: TimeAxis) -> None:
    gaps = {(b.day - a.day).days for a, b in pairwise(axis.ticks)}
    if len(axis.ticks) < 3:
        return
    if max(gaps) <= 14:
        assert len(gaps) == 1
        assert gaps <= {1, 2, 7, 14}
        if min(gaps) >= 7:
            assert all(tick.day.weekday() == 0 for tick in axis.ticks)
    else:
        assert all(tick.day.day == 1 for tick in axis.ticks)
    if axis.months:
        assert min(gaps) >= 28


@given(axes(), days, days)
def test_a_day_is_as_wide_as_any_other(axis: TimeAxis, one: date, other: date) -> None:
    apart = (other - one).days * axis.day_width
    assert axis.x(other) - axis.x(one) == pytest.approx(apart, abs=1e-6)
    assert axis.left <= axis.x(axis.first) <= axis.x(axis.last) <= axis.right


@given(st.lists(st.floats(80, 620), max_size=40), st.floats(1, 15))
def test_marks_stand_apart_in_order_and_within_bounds(some: list[float], gap: float) -> None:
    there = sorted(some)
    moved = spread(there, gap, 80, 620)
    if (len(there) - 1) * gap > 540:
        assert moved == tuple(there)
        return
    assert len(moved) == len(there)
    assert all(80 - 1e-6 <= x <= 620 + 1e-6 for x in moved)
    assert all(b - a >= gap - 1e-6 for a, b in pairwise(moved))
    if all(b - a >= gap for a, b in pairwise(there)):
        assert moved == pytest.approx(there)


def test_marks_are_moved_no_more_than_need_be() -> None:
    # three on one place, 9 apart: by the least squares solution one stays, its neighbours move
    assert spread([100, 100, 100, 300], 9, 0, 400) == pytest.approx((91, 100, 109, 300))
    assert spread([], 9, 0, 400) == ()


def test_the_year_stands_once_and_at_each_new_one() -> None:
    axis = TimeAxis(date(2030, 10, 20), date(2031, 3, 2), 78, 638, months=True)
    assert [tick.label for tick in axis.ticks] == ["Nov", "Dec", "Jan", "Feb", "Mar"]
    assert [year.label for year in axis.years] == ["2030", "2031"]
    assert axis.years[1].x == axis.ticks[2].x


def test_no_axis_runs_backwards() -> None:
    with pytest.raises(ValueError, match="no axis"):
        TimeAxis(date(2031, 3, 2), date(2031, 3, 1), 0, 100)
    assert window_start(date(2031, 3, 14), 14) == date(2031, 3, 1)
    assert window_start(date(1, 1, 3), 14) == date.min
