"""One step up and one step down, and that neither became kinder to the thumb than it was."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.model import Transmitter
from voicelog.model.dial import level_above, level_below, step_down, step_up


def before(unit: Transmitter) -> int:
    """Levels in one step, up or down, as it was before the two were told apart."""
    if unit.step is not None:
        return unit.step
    top = 100 if unit.top is None else unit.top
    return 1 if top <= 20 else max(1, round(top / 20))


@st.composite
def units(draw: st.DrawFn) -> Transmitter:
    top = draw(st.none() | st.integers(1, 999))
    return Transmitter(
        top=top,
        lowest=draw(st.integers(0, min(3, top or 3))),
        step=draw(st.none() | st.integers(1, 60)),
    )


LEVELS = st.integers(0, 999)


@given(units(), LEVELS, st.integers(0, 10))
def test_no_easing_and_no_ceiling_is_higher_than_before(
    unit: Transmitter, level: int, steps: int
) -> None:
    now = level_below(unit, level, steps)
    was = level - steps * before(unit)
    assert now is None or unit.lowest <= now <= was
    assert level - steps * step_down(unit, level) <= was


@given(units(), LEVELS, st.integers(0, 3))
def test_no_step_up_is_larger_than_before(unit: Transmitter, level: int, steps: int) -> None:
    assert 1 <= step_up(unit, level) <= before(unit)
    assert level + steps <= level_above(unit, level, steps) <= level + steps * before(unit)


@given(units(), LEVELS)
def test_a_step_up_is_a_tenth_at_most_and_never_more_than_a_step_down(
    unit: Transmitter, level: int
) -> None:
    assert step_up(unit, level) <= max(1, level / 10)
    assert step_up(unit, level) <= step_down(unit, level)
    assert step_down(unit, level) >= unit.highest / 20
    if unit.top is None:
        assert step_up(unit, level) == 1
        assert step_down(unit, level) >= max(2, level / 10)
    elif unit.top <= 20:
        assert step_up(unit, level) == 1


@given(units(), LEVELS)
def test_a_higher_level_is_never_eased_to_a_lower_one(unit: Transmitter, level: int) -> None:
    lower, higher = level_below(unit, level), level_below(unit, level + 1)
    assert lower is None or (higher is not None and higher >= lower)


@pytest.mark.parametrize(
    ("top", "level", "one_up", "one_down"),
    [
        (20, 19, 1, 1),
        (None, 4, 1, 5),
        (None, 80, 1, 8),
        (100, 4, 1, 5),
        (100, 29, 2, 5),
        (100, 90, 5, 5),
        (30, 30, 2, 2),
    ],
)
def test_some_steps(top: int | None, level: int, one_up: int, one_down: int) -> None:
    unit = Transmitter(top=top)
    assert (step_up(unit, level), step_down(unit, level)) == (one_up, one_down)


def test_where_the_dial_has_no_level_that_low_there_is_none() -> None:
    assert level_below(Transmitter(top=18), 2) == 1
    assert level_below(Transmitter(top=18), 1) is None
    assert level_below(Transmitter(), 5) is None
    assert level_below(Transmitter(), 6) == 1
