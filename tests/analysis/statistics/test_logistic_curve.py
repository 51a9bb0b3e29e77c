"""Levels from walks: what the fit keeps to, and what it says instead of a number."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from tests.known import known
from voicelog.analysis.statistics.logistic_curve import (
    MIN_REPS_FOR_CURVE,
    CensoredLevel,
    LevelEstimate,
    LogisticCurve,
    fit_level,
    fit_levels,
    most_chance,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import level_words, unknown_words


def ignored(level: float) -> CensoredLevel:
    return CensoredLevel(level, None)


def answered(level: float) -> CensoredLevel:
    return CensoredLevel(None, level)


@st.composite
def some_walks(draw: st.DrawFn, least: int = MIN_REPS_FOR_CURVE) -> list[CensoredLevel]:
    """Reps of every kind on levels 1 to 12."""
    walk = st.one_of(
        st.tuples(st.integers(1, 11), st.integers(1, 4)).map(
            lambda w: CensoredLevel(w[0], w[0] + w[1])
        ),
        st.integers(1, 12).map(ignored),
        st.integers(1, 12).map(answered),
    )
    return draw(st.lists(walk, min_size=least, max_size=40))


def fitted(walks: list[CensoredLevel], **kwargs: Any) -> LogisticCurve:
    found = fit_levels(walks, **kwargs)
    assert isinstance(found, LogisticCurve), found
    return found


def edges(level: LevelEstimate) -> tuple[float, float, float]:
    """Low end, value and high end, infinite where they are only said to lie beyond."""
    beyond = {"above": math.inf, "below": -math.inf}
    value = beyond[level.side] if level.value is None else level.value
    low = -math.inf if level.low is None else level.low
    return low, value, math.inf if level.high is None else level.high


# --- properties ------------------------------------------------------------------------


@settings(max_examples=50, deadline=None)
@given(some_walks())
def test_the_interval_holds_the_level_and_nothing_is_told_beyond_the_levels_tried(
    walks: list[CensoredLevel],
) -> None:
    curve = fit_levels(walks)
    alone = fit_level(walks, 0.8)
    if isinstance(curve, Unknown):
        assert unknown_words(curve).endswith(".")
        assert curve.of == len(walks)
        assert alone == curve
        return
    whole = curve.levels[1]
    assert alone == (whole.value, whole.side, whole.lowest_tried)
    tried = [level for walk in walks for level in walk if level is not None]
    assert curve.slope > 0
    assert (curve.of, curve.answered) == (len(walks), sum(w.answered is not None for w in walks))
    for level in curve.levels:
        assert (level.lowest_tried, level.highest_tried) == (min(tried), max(tried))
        low, value, high = edges(level)
        assert low <= value <= high
        for told in (level.low, level.value, level.high):
            assert told is None or min(tried) <= told <= max(tried)
        assert (level.value is None) == (level.side != "within")
        if level.value is not None:
            assert curve.chance(level.value) == pytest.approx(level.chance, abs=1e-6)


@settings(max_examples=300, deadline=None)
@given(
    st.dictionaries(
        st.integers(1, 9), st.tuples(st.integers(1, 40), st.integers(0, 4)), min_size=2, max_size=7
    )
)
def test_a_rising_curve_has_at_most_the_chance_that_is_told_without_fitting_it(
    presses: dict[int, tuple[int, int]],
) -> None:
    trials = {float(level): many for level, (many, _) in presses.items()}
    events = {float(level): min(many, yes) for level, (many, yes) in presses.items()}
    walks = [answered(level) for level, yes in events.items() for _ in range(yes)]
    walks += [ignored(level) for level in trials for _ in range(trials[level] - int(events[level]))]
    curve = fit_levels(walks, (0.5,))
    if isinstance(curve, Unknown):
        reject()
    for level in trials:
        assert curve.chance(level) <= most_chance(trials, events, level) + 1e-6


def test_the_chance_told_without_a_fit_by_hand() -> None:
    """Weights 1 and 1: (1 + 1) / 60; weights 1 and 0: (0 + 1/2) / 30, which is less."""
    assert most_chance({1: 30, 2: 30}, {2: 1}, 1) == pytest.approx(1 / 60)
    assert most_chance({1: 30, 2: 30}, {2: 1}, 2) == pytest.approx(2 / 30)
    assert most_chance({1: 30, 2: 30}, {2: 1}, 3) == math.inf
    assert most_chance({1: 30}, {1: 1}, 1) == math.inf


@settings(max_examples=30, deadline=None)
@given(some_walks(), st.randoms(use_true_random=False))
def test_the_order_of_the_reps_does_not_matter(
    walks: list[CensoredLevel], shuffler: random.Random
) -> None:
    session_digests = [at // 5 for at in range(len(walks))]
    mixed = list(zip(walks, session_digests, strict=True))
    shuffler.shuffle(mixed)
    one = fit_levels(walks, session_digests=session_digests)
    other = fit_levels(
        [walk for walk, _ in mixed], session_digests=[session_digest for _, session_digest in mixed]
    )
    if isinstance(one, Unknown):
        assert one == other
        return
    assert isinstance(other, LogisticCurve)
    for first, second in zip(one.levels, other.levels, strict=True):
        for ours, theirs in zip(edges(first), edges(second), strict=True):
            assert ours == pytest.approx(theirs, abs=0.01)


@settings(max_examples=30, deadline=None)
@given(some_walks(), st.integers(2, 20), st.integers(-5, 30))
def test_another_scale_of_the_dial_moves_the_levels_with_it(
    walks: list[CensoredLevel], times: int, more: int
) -> None:
    def moved(level: float | None) -> float | None:
        return None if level is None else times * level + more

    one = fit_levels(walks)
    other = fit_levels([CensoredLevel(moved(w.ignored), moved(w.answered)) for w in walks])
    if isinstance(one, Unknown):
        reject()
    assert isinstance(other, LogisticCurve)
    for first, second in zip(one.levels, other.levels, strict=True):
        assert first.side == second.side
        for ours, theirs in zip(edges(first), edges(second), strict=True):
            assert times * ours + more == pytest.approx(theirs, abs=0.01 * times)


@settings(max_examples=30, deadline=None)
@given(some_walks())
def test_a_higher_chance_needs_no_lower_level(walks: list[CensoredLevel]) -> None:
    curve = fit_levels(walks, (0.2, 0.5, 0.8, 0.95))
    if isinstance(curve, Unknown):
        reject()
    for lower, higher in zip(curve.levels, curve.levels[1:], strict=False):
        assert edges(lower)[1] <= edges(higher)[1]


@settings(max_examples=30, deadline=None)
@given(some_walks(), st.integers(2, 7))
def test_sessions_that_differ_only_ever_widen_the_interval(
    walks: list[CensoredLevel], of: int
) -> None:
    plain = fit_levels(walks)
    if isinstance(plain, Unknown):
        reject()
    curve = fitted(walks, session_digests=[at % of for at in range(len(walks))])
    for narrow, wide in zip(plain.levels, curve.levels, strict=True):
        assert narrow.widened == 1.0 <= wide.widened
        low, value, high = edges(narrow)
        wide_low, wide_value, wide_high = edges(wide)
        assert wide_low <= low + 0.01
        assert wide_value == value
        assert wide_high >= high - 0.01


@settings(max_examples=25, deadline=None)
@given(some_walks())
def test_more_confidence_is_a_wider_interval(walks: list[CensoredLevel]) -> None:
    plain = fit_levels(walks, confidence=0.8)
    if isinstance(plain, Unknown):
        reject()
    for narrow, wide in zip(plain.levels, fitted(walks).levels, strict=True):
        assert edges(wide)[0] <= edges(narrow)[0] + 0.01
        assert edges(wide)[2] >= edges(narrow)[2] - 0.01


# --- what it says of plain cases -------------------------------------------------------


def test_where_every_rep_turned_in_one_step_the_level_is_told_no_finer() -> None:
    level = fitted([CensoredLevel(3, 4)] * 200).levels[0]
    assert level.value == pytest.approx(3.5)
    assert level_words(level) == "3.5 (3.0 to 4.0)"
    single = fitted([ignored(3)] * 100 + [answered(8)] * 100).levels[0]
    assert level_words(single) == "5.5 (3.0 to 8.0)"


def test_the_level_is_in_the_middle_of_walks_that_lie_evenly() -> None:
    walks = [
        CensoredLevel(2, 3),
        CensoredLevel(3, 4),
        CensoredLevel(4, 5),
        CensoredLevel(5, 6),
        CensoredLevel(6, 7),
    ] * 3
    half, most = fitted(walks).levels
    assert half.value == pytest.approx(4.5)
    assert 5 < known(most.value) < 6.5
    low, value, high = edges(half)
    assert high - value == pytest.approx(value - low, abs=0.01)


def test_a_level_ignored_below_the_one_answered_narrows_the_interval() -> None:
    plain = [answered(x) for x in (3, 4, 5, 6)] * 4 + [ignored(x) for x in (2, 3, 4, 5)] * 2
    walked_up = [CensoredLevel(x - 1, x) for x in (3, 4, 5, 6)] * 4 + [
        ignored(x) for x in (2, 3, 4, 5)
    ] * 2
    single, walk = fitted(plain).levels[0], fitted(walked_up).levels[0]
    low = known(walk.low)
    assert known(walk.high) - low < single.highest_tried - single.lowest_tried
    assert low > single.lowest_tried or single.low is None


def test_a_level_above_those_tried_is_only_said_to_lie_there() -> None:
    level = fitted(
        [ignored(4)] * 12 + [CensoredLevel(3, 4), CensoredLevel(2, 3), CensoredLevel(3, 4)]
    ).levels[1]
    assert (level.side, level.value, level.high) == ("above", None, None)
    assert level_words(level).startswith("above 4 (from ")


def test_a_level_below_those_tried_is_only_said_to_lie_there() -> None:
    level = fitted([answered(4)] * 12 + [CensoredLevel(4, 5), CensoredLevel(4, 6)]).levels[0]
    assert (level.side, level.value, level.low) == ("below", None, None)
    assert level_words(level) == f"below 4 (up to {level.high:.1f})"


def test_an_interval_that_reaches_beyond_the_levels_tried_says_so() -> None:
    level = fitted([CensoredLevel(4, 5)] * 4 + [ignored(5)] * 5 + [answered(4)] * 4).levels[0]
    assert level_words(level) == "4.6 (below 4 to above 5)"


def test_sessions_a_step_apart_widen_the_interval() -> None:
    walks = [CensoredLevel(3, 4)] * 8 + [CensoredLevel(5, 6)] * 8 + [CensoredLevel(4, 5)] * 8
    walks += [CensoredLevel(2, 3)] * 2 + [CensoredLevel(6, 7)] * 2
    alike = fitted(walks, session_digests=[at % 4 for at in range(28)]).levels[0]
    apart = fitted(walks, session_digests=[at // 8 for at in range(28)]).levels[0]
    assert alike.widened == 1.0
    assert apart.widened > 2
    (low, _, high), (alike_low, _, alike_high) = edges(apart), edges(alike)
    assert high - low > 2 * (alike_high - alike_low)


@pytest.mark.parametrize("seed", range(3))
def test_many_reps_find_the_level_they_were_made_from(seed: int) -> None:
    chance = random.Random(seed)
    walks = []
    for _ in range(600):
        needed = chance.gauss(6.3, 1.1)
        answered = max(1, math.ceil(needed))
        walks.append(CensoredLevel(answered - 1 or None, answered))
    half, most = fitted(walks).levels
    assert known(half.low) < 6.3 < known(half.high)
    assert half.value == pytest.approx(6.3, abs=0.15)
    assert most.value == pytest.approx(6.3 + 0.8416 * 1.1, abs=0.2)


@pytest.mark.parametrize("top", [8, 9, 11])
@pytest.mark.parametrize("each", [10, 40, 80, 100])
@pytest.mark.parametrize("strong", [1, 2, 3])
def test_a_strong_sign_high_up_and_much_work_below_have_a_level(
    top: int, each: int, strong: int
) -> None:
    """Far from the level every rep is certain and the information rounds to nothing."""
    walks = [answered(top)] * strong + [ignored(at) for at in (3, 4, 5, 6) for _ in range(each)]
    for chance in (0.05, 0.5, 0.8):
        (level,) = fitted(walks, chances=(chance,)).levels
        low, value, high = edges(level)
        assert low <= value <= high
        assert low > 3


def test_thousands_of_equal_reps_are_no_trouble() -> None:
    level = fitted([CensoredLevel(3, 4)] * 5000 + [CensoredLevel(4, 5)]).levels[0]
    assert 3 <= known(level.low) < known(level.value) < known(level.high) <= 4


# --- what it says instead of a number --------------------------------------------------


@pytest.mark.parametrize(
    ("walks", "why"),
    [
        ([], "No rep with a level yet."),
        ([CensoredLevel(3, 4)], "Too few reps yet: 1 rep with a level, 10 are needed."),
        ([CensoredLevel(3, 4)] * 6, "Too few reps yet: 6 reps with a level, 10 are needed."),
        (
            [answered(4)] * 6 + [answered(3)] * 6,
            "All 12 reps were answered at the first press, down to level 3: it lies at or below"
            " that, and nothing lower was tried.",
        ),
        (
            [ignored(4)] * 6 + [ignored(7)] * 6,
            "None of 12 reps was answered, up to level 7: it lies above that.",
        ),
        (
            [answered(4)] * 7 + [ignored(4)] * 3,
            "Only level 4 was tried: 7 of 10 reps answered; a curve needs more than one level.",
        ),
        (
            [answered(2)] * 7 + [ignored(6)] * 7,
            "In 14 reps the dog did not answer more often at higher levels, so the level it"
            " answers cannot be told from them.",
        ),
    ],
)
def test_where_no_level_can_be_told_a_sentence_says_why(
    walks: list[CensoredLevel], why: str
) -> None:
    found = fit_levels(walks)
    assert isinstance(found, Unknown)
    assert (unknown_words(found), found.of) == (why, len(walks))


def test_a_walk_that_says_nothing_or_contradicts_itself_is_refused() -> None:
    with pytest.raises(ValueError, match="a rep without any level is no walk"):
        fit_levels([CensoredLevel(None, None)])
    with pytest.raises(ValueError, match="answered at 3, not above 3, ignored"):
        fit_levels([CensoredLevel(3, 3)])
    with pytest.raises(ValueError, match="2 sessions for 1 walks"):
        fit_levels([CensoredLevel(3, 4)], session_digests=[1, 2])
