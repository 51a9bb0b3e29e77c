"""What lies between the moments of a rep: the narrator's error, one breath, what was not said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.session.said import reps_of
from voicelog.model import Rep, RepIntervals, TimeInterval
from voicelog.safety.contingency import between, time_reps

from .build import Field
from .strategies import fields


def timed(*lines: str, error_s: float = 1.0) -> tuple[Rep, ...]:
    return time_reps(reps_of(*lines), error_s)


def one(*lines: str, error_s: float = 1.0) -> RepIntervals:
    (rep,) = timed(*lines, error_s=error_s)
    assert rep.intervals is not None
    return rep.intervals


def test_two_words_each_within_their_error() -> None:
    assert between(10.0, 13.0, 1.0) == (1.0, 5.0)
    assert between(13.0, 10.0, 0.5) == (-4.0, -2.0)
    assert between(10.0, 13.0, 0.0) == (3.0, 3.0)


@pytest.mark.parametrize(
    ("interval", "limit_s", "above"),
    [
        (TimeInterval(1, 5), 0, 1.0),
        (TimeInterval(1, 5), 1, 1.0),
        (TimeInterval(1, 5), 4, 0.25),
        (TimeInterval(1, 5), 5, 0.0),
        (TimeInterval(3, 3), 2, 1.0),
        (TimeInterval(3, 3), 3, 0.0),
    ],
)
def test_the_share_above_a_limit(interval: TimeInterval, limit_s: float, above: float) -> None:
    assert interval.share_above(limit_s) == above


@given(st.floats(-50, 50), st.floats(0, 50), st.floats(-60, 60))
def test_shares_above_and_below_make_up_the_whole(lo: float, width: float, limit: float) -> None:
    interval = TimeInterval(lo, lo + width)
    above, below = interval.share_above(limit), interval.share_below(limit)
    assert 0 <= above <= 1
    if width and lo < limit < lo + width:
        assert above + below == pytest.approx(1)


def test_a_rep_in_pieces_has_all_of_it() -> None:
    told = ("0 here", "3 level 2", "5 committed", "8 came", "11 thumb off")
    (rep,) = timed(*told)
    assert rep.times.cue_at_s == 0
    assert [(p.on_at_s, p.off_at_s, p.mode, p.level) for p in rep.times.presses] == [
        (3.0, 11.0, "continuous", 2)
    ]
    assert (rep.times.turned_at_s, rep.times.arrived_at_s) == (5.0, 8.0)
    assert rep.intervals == RepIntervals(
        error_s=1.0,
        answer_time_s=TimeInterval(1, 5),
        stimulus_after_turn_s=TimeInterval(4, 8),
        stimulus_after_arrival_s=TimeInterval(1, 5),
        stimulus_total_s=TimeInterval(6, 10),
    )
    assert one(*told, error_s=0.25).answer_time_s == (2.5, 3.5)


@pytest.mark.parametrize(
    "lines",
    [
        ("here level 2 committed came thumb off",),
        ("0 here no button", "4 came"),
        ("0 here", "2 level 2", "4 came"),
        ("0 here", "2 tap 2", "3 committed", "4 came", "5 thumb off"),
        ("0 level 2", "4 ignored"),
    ],
    ids=str,
)
def test_what_was_not_said_has_no_interval(lines: tuple[str, ...]) -> None:
    found = one(*lines)
    assert found.stimulus_after_turn_s is None
    assert found.stimulus_after_arrival_s is None
    assert found.stimulus_total_s is None
    assert found.rest_after_strong_s is None


def test_one_breath_has_no_time_in_it() -> None:
    assert one("here level 2", "4 came").answer_time_s is None
    assert one("0 here", "2 level 2", "6 came thumb off").stimulus_after_arrival_s is None
    assert one("0 here", "2 level 2", "6 came thumb off").stimulus_total_s == (2, 6)


def test_a_press_that_was_over_before_is_none_after() -> None:
    found = one("0 here", "2 level 2", "4 thumb off", "12 came")
    assert found.stimulus_after_arrival_s == (0, 0)
    assert found.stimulus_after_turn_s is None


def test_levels_on_one_another_are_one_stretch() -> None:
    """The error is that of its two ends, not of each step between."""
    ladder = one("0 here", "2 level 2", "4 up to 3", "6 up to 4", "9 thumb off", "10 came")
    assert ladder.stimulus_total_s == (5, 9)
    apart = one("0 here", "2 level 2", "5 thumb off", "9 level 2", "12 thumb off", "15 came")
    assert apart.stimulus_total_s == (2, 10)
    assert one("0 here", "2 level 2 up to 3", "7 thumb off", "8 came").stimulus_total_s == (3, 7)


def test_an_end_that_was_not_said_leaves_the_whole_open() -> None:
    lines = ("0 here", "2 level 2", "5 thumb off", "9 level 2", "12 came")
    assert one(*lines).stimulus_total_s is None


def test_vibrate_and_tone_are_stimulus_too() -> None:
    for mode in ("vibrate", "tone"):
        assert one("0 here", f"2 {mode}", "4 came", "9 thumb off").stimulus_after_arrival_s == (
            3,
            7,
        )


def test_a_press_before_the_call_gave_no_time() -> None:
    assert one("0 level 2", "3 here", "5 came").answer_time_s == (0, 0)


def test_time_is_given_from_the_first_of_two_calls() -> None:
    assert one("0 here", "5 here", "6 level 2", "9 came").answer_time_s == (4, 8)


def test_a_dog_that_was_helped_or_left_did_not_arrive() -> None:
    for word in ("line help", "ignored", "peeled off"):
        (rep,) = timed("0 here", "3 level 2", "6 thumb off", f"9 {word}")
        assert rep.times.arrived_at_s is None


def test_rest_runs_from_the_last_strong_sign_of_a_rep_before() -> None:
    first, second, third = timed(
        "0 here", "2 level 3", "3 yelped", "5 came", "8 flinched", "80 here", "84 came", "99 here"
    )
    assert [rep.intervals and rep.intervals.rest_after_strong_s for rep in (first, second)] == [
        None,
        (70, 74),
    ]
    assert third.intervals is not None
    assert third.intervals.rest_after_strong_s == (89, 93)


@pytest.mark.parametrize(("off_s", "is_its"), [(12.0, True), (37.0, True), (40.0, False)])
def test_a_thumb_that_stayed_on_is_told_when_it_comes_off(off_s: float, is_its: bool) -> None:
    (rep,) = timed("0 here", "2 level 2", "6 came", f"{off_s} thumb off")
    assert (rep.times.presses[0].off_at_s == off_s) is is_its


def test_a_press_already_over_is_not_over_again() -> None:
    (rep,) = timed("0 here", "2 level 2", "4 thumb off", "6 came", "20 thumb off")
    assert rep.times.presses[0].off_at_s == 4


@given(fields(doubt=False), st.floats(0.2, 3.0))
def test_intervals_hold_what_was_said_and_grow_with_the_error(field: Field, error_s: float) -> None:
    reps = field.session().reps
    exact, rough = time_reps(reps, 0.0), time_reps(reps, error_s)
    for sure, wide in zip(exact, rough, strict=True):
        for name in RepIntervals.model_fields:
            if name == "error_s":
                continue
            inner, outer = getattr(sure.intervals, name), getattr(wide.intervals, name)
            assert (inner is None) is (outer is None)
            if inner is not None:
                assert 0 <= outer.lo_s <= inner.lo_s + 1e-3
                assert inner.hi_s - 1e-3 <= outer.hi_s
