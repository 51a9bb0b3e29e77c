"""Up-and-down estimates: when they are given, and when they are said to disagree."""

from __future__ import annotations

import random
from collections.abc import Callable
from statistics import fmean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.analysis.levels import CombinedEstimate
from voicelog.analysis.statistics.censored_level import CensoredLevel
from voicelog.analysis.statistics.logistic_curve import LogisticCurve, fit_levels
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.statistics.up_down import (
    UpDownEstimate,
    disagrees,
    dixon_mood,
    midpoints,
    reversals,
)
from voicelog.report.wording.statistics import disagreement_words, level_words, unknown_words


def staircase(answers: list[bool], start: float = 8.0, step: float = 1.0) -> list[float]:
    """The levels of a walk up after each False and down after each True."""
    levels = [start]
    for answered in answers[:-1]:
        levels.append(levels[-1] + (-step if answered else step))
    return levels


def track(seed: int, presses: int, start: float) -> tuple[list[float], list[bool]]:
    """An invented walk around 5.2 with a spread of 1."""
    chance, levels, answers = random.Random(seed), [start], []
    for _ in range(presses):
        answers.append(chance.gauss(5.2, 1.0) <= levels[-1])
        levels.append(levels[-1] + (-1 if answers[-1] else 1))
    return levels[:-1], answers


def told(found: UpDownEstimate | Unknown) -> UpDownEstimate:
    assert isinstance(found, UpDownEstimate), found
    return found


def test_many_tracks_find_the_level_that_is_answered_half_the_time() -> None:
    found = [told(dixon_mood(*track(seed, 60, 5.0))) for seed in range(400)]
    assert fmean(each.level for each in found) == pytest.approx(5.2, abs=0.03)
    assert stdev(each.level for each in found) == pytest.approx(0.18, abs=0.03)
    errors = [each.error for each in found if each.error is not None]
    assert fmean(errors) == pytest.approx(0.18, abs=0.06)
    turns = [told(reversals(*track(seed, 60, 5.0))).level for seed in range(400)]
    assert fmean(turns) == pytest.approx(5.2, abs=0.05)


@pytest.mark.parametrize("seed", range(8))
def test_a_walk_turned_over_has_the_level_turned_over(seed: int) -> None:
    levels, answers = track(seed, 31, 5.0)
    over = [20 - level for level in levels], [not answered for answered in answers]
    one, other = told(dixon_mood(levels, answers)), told(dixon_mood(*over))
    assert other.level == pytest.approx(20 - one.level)
    assert other.error == pytest.approx(one.error)


@given(st.lists(st.booleans(), min_size=2, max_size=60), st.integers(1, 10))
def test_an_up_and_down_level_lies_within_half_a_step_of_the_walk(
    answers: list[bool], step: int
) -> None:
    levels = staircase(answers, 100.0, float(step))
    found = dixon_mood(levels, answers, float(step))
    if isinstance(found, Unknown):
        assert len(set(answers)) == 1
        return
    assert min(levels) - step / 2 <= found.level <= max(levels) + step / 2
    turns = reversals(levels, answers)
    if isinstance(turns, UpDownEstimate):
        assert min(levels) <= turns.level <= max(levels)


def test_a_walk_without_spread_has_a_level_but_no_error() -> None:
    answers = [True, False] * 6
    found = told(dixon_mood(staircase(answers), answers))
    assert (found.level, found.error) == (7.5, None)


WALKED_UP = [1.0, 2.0, 3.0, 4.0] * 5, [False, False, False, True] * 5


@pytest.mark.parametrize("estimate", [dixon_mood, reversals])
def test_reps_that_all_begin_at_the_lowest_level_are_no_up_and_down_walk(
    estimate: Callable[[list[float], list[bool]], UpDownEstimate | Unknown],
) -> None:
    found = estimate(*WALKED_UP)
    assert isinstance(found, Unknown)
    assert unknown_words(found).startswith("The levels were not walked up and down")
    assert found.of == 20


def test_one_new_start_in_a_long_walk_still_leaves_its_reversals() -> None:
    levels, answers = track(1, 30, 5.0)
    again, more = track(2, 30, 9.0)
    both = levels + again, answers + more
    assert isinstance(dixon_mood(*both), Unknown)
    assert told(reversals(*both)).level == pytest.approx(5.2, abs=0.6)


def test_walks_that_never_turned_or_turned_too_seldom() -> None:
    still = dixon_mood([1, 2, 3], [False] * 3)
    assert isinstance(still, Unknown)
    assert unknown_words(still) == "0 of 3 presses answered: the walk never turned."
    few = reversals([5, 4, 5, 4], [True, False, True, False])
    assert isinstance(few, Unknown)
    assert unknown_words(few) == "2 reversals after the first 1; 4 are needed."
    assert isinstance(reversals([], []), Unknown)
    assert isinstance(dixon_mood([], []), Unknown)


def test_what_is_no_walk_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="2 levels for 1 answers"):
        dixon_mood([1, 2], [True])
    with pytest.raises(ValueError, match="2 levels for 1 answers"):
        reversals([1, 2], [True])
    with pytest.raises(ValueError, match="step 0 is not positive"):
        dixon_mood([1, 2], [False, True], 0)


def test_the_middles_of_walks_from_below() -> None:
    found = told(
        midpoints(
            [
                CensoredLevel(3, 4),
                CensoredLevel(4, 5),
                CensoredLevel(3, 4),
                CensoredLevel(5, 6),
                CensoredLevel(None, 3),
            ]
        )
    )
    assert (found.level, found.of) == (4.25, 4)
    assert found.error == pytest.approx(stdev([3.5, 4.5, 3.5, 5.5]) / 2)


@pytest.mark.parametrize(
    "walks",
    [
        [CensoredLevel(3, 4)] * 3,
        [CensoredLevel(3, 4)] * 8 + [CensoredLevel(None, 3)] * 3,
        [CensoredLevel(5, None)] * 9,
    ],
)
def test_middles_need_reps_that_were_walked_from_below(walks: list[CensoredLevel]) -> None:
    found = midpoints(walks)
    assert isinstance(found, Unknown)
    assert unknown_words(found) == (
        f"{sum(None not in w for w in walks)} of {len(walks)} reps were walked up from a level"
        " ignored to one answered; at least 4, and four in five, are needed."
    )


def test_a_level_far_from_the_curves_is_said_to_disagree() -> None:
    curve = fit_levels([CensoredLevel(3, 4), CensoredLevel(4, 5)] * 10)
    assert isinstance(curve, LogisticCurve)
    near = UpDownEstimate(method="reversals (Levitt)", level=4.1, error=0.2, of=6)
    far = near.model_copy(update={"level": 6.0})
    assert not disagrees(curve, near)
    assert disagrees(curve, far)
    both = CombinedEstimate(curve=curve, beside=far, disagree=True, reps=())
    assert disagreement_words(both) == (
        f"The curve has the level at {level_words(curve.levels[0])}, the reversals (Levitt) at 6.0:"
        " they disagree, so trust neither until there are more reps."
    )
    assert disagreement_words(both.model_copy(update={"disagree": False})) == ""
    assert not disagrees(curve.model_copy(update={"levels": curve.levels[1:]}), far)
