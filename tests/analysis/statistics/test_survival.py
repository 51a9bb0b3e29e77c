"""Times with censoring: what the curve keeps to, and what is said instead of a time."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.known import known
from voicelog.analysis.statistics.survival import (
    LogRankTest,
    Survival,
    TimeEstimate,
    log_rank_test,
    median,
    restricted_mean,
    survival,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import unknown_words

TIMED = st.lists(
    st.tuples(st.integers(0, 40).map(lambda t: t / 4), st.booleans()), min_size=1, max_size=40
)


def unknown(result: object) -> tuple[str, int]:
    """Why there is no number, in words, and of how many reps."""
    assert isinstance(result, Unknown)
    return unknown_words(result), result.of


def curve_of(reps: list[tuple[float, bool]]) -> Survival | Unknown:
    return survival([t for t, _ in reps], [seen for _, seen in reps])


@given(TIMED)
def test_the_share_falls_within_its_interval_at_the_times_of_answers_only(
    reps: list[tuple[float, bool]],
) -> None:
    curve = curve_of(reps)
    if isinstance(curve, Unknown):
        assert not any(seen for _, seen in reps)
        assert unknown_words(curve) == f"None of {len(reps)} timed reps was answered."
        return
    assert curve.times == tuple(sorted({t for t, seen in reps if seen}))
    assert curve.events == sum(curve.answered) == sum(seen for _, seen in reps)
    assert (curve.of, curve.longest) == (len(reps), max(t for t, _ in reps))
    last = 1.0
    for share, low, high in zip(curve.share, curve.low, curve.high, strict=True):
        assert 0 <= low <= share <= high <= 1
        assert share < last
        last = share


@given(TIMED, st.randoms(use_true_random=False))
def test_the_order_of_the_reps_does_not_matter(
    reps: list[tuple[float, bool]], shuffler: random.Random
) -> None:
    mixed = list(reps)
    shuffler.shuffle(mixed)
    assert curve_of(mixed) == curve_of(reps)


@given(st.lists(st.integers(1, 40).map(lambda t: t / 4), min_size=2, max_size=40))
def test_with_every_rep_answered_all_are_the_plain_figures(times: list[float]) -> None:
    curve = survival(times, [True] * len(times))
    assert isinstance(curve, Survival)
    of = len(times)
    for t, share in zip(curve.times, curve.share, strict=True):
        assert share == pytest.approx(sum(x > t for x in times) / of)
    half, mean = median(curve), restricted_mean(curve)
    assert isinstance(half, TimeEstimate)
    assert half.value == sorted(times)[math.ceil(of / 2) - 1]
    assert isinstance(mean, TimeEstimate)
    plain = sum(times) / of
    error = math.sqrt(sum((x - plain) ** 2 for x in times)) / of
    assert mean.value == pytest.approx(plain)
    assert mean.value - mean.low == pytest.approx(min(plain, 1.959964 * error), abs=1e-5)
    assert mean.until == max(times)


@settings(deadline=None)
@given(TIMED)
def test_times_lie_within_their_intervals(reps: list[tuple[float, bool]]) -> None:
    curve = curve_of(reps)
    if isinstance(curve, Unknown):
        return
    half, mean = median(curve), restricted_mean(curve)
    if isinstance(half, TimeEstimate):
        assert half.low <= half.value
        assert half.high is None or half.value <= half.high
    else:
        assert curve.share[-1] > 0.5
    if isinstance(mean, TimeEstimate):
        assert 0 <= mean.low <= mean.value <= known(mean.high) <= curve.longest


def test_an_ignored_cue_is_not_a_slow_one() -> None:
    """Three answers in 2 s, three cues still ignored after 10 s: no mean of 6 s."""
    curve = survival([2, 2, 2, 10, 10, 10], [True] * 3 + [False] * 3)
    assert isinstance(curve, Survival)
    assert curve.share == (0.5,)
    mean = restricted_mean(curve, 5)
    assert isinstance(mean, TimeEstimate)
    assert mean.value == 2 + 0.5 * 3


def test_a_median_that_was_not_reached_is_not_the_last_time() -> None:
    curve = survival([1, 2, 9, 9, 9], [True, True, False, False, False])
    assert isinstance(curve, Survival)
    assert unknown(median(curve)) == (
        "Fewer than half of 5 reps were answered within 9 s, so the median lies beyond.",
        5,
    )
    assert unknown(restricted_mean(curve, 12)) == (
        "No rep was timed beyond 9 s, so a mean until 12 s cannot be told.",
        5,
    )


def test_a_mean_may_reach_beyond_the_last_time_when_all_were_answered() -> None:
    curve = survival([1, 2], [True, True])
    assert isinstance(curve, Survival)
    mean = restricted_mean(curve, 12)
    assert isinstance(mean, TimeEstimate)
    assert (mean.value, mean.until) == (1.5, 12)


def test_reps_all_timed_at_0_s() -> None:
    curve = survival([0, 0], [True, True])
    assert isinstance(curve, Survival)
    assert unknown(restricted_mean(curve)) == ("Every rep was timed at 0 s.", 2)


def test_no_reps_have_no_times() -> None:
    assert unknown(survival([], [])) == ("No rep was timed.", 0)


@pytest.mark.parametrize(
    ("durations", "observed", "why"),
    [
        ([1.0], [], "1 durations, 0 said observed or not"),
        ([-1.0], [True], "a duration is negative or not finite"),
        ([math.nan], [True], "a duration is negative or not finite"),
        ([math.inf], [False], "a duration is negative or not finite"),
    ],
)
def test_what_is_no_duration_is_refused(
    durations: list[float], observed: list[bool], why: str
) -> None:
    with pytest.raises(ValueError, match=why):
        survival(durations, observed)
    with pytest.raises(ValueError, match=why):
        log_rank_test([(durations, observed), ([1.0], [True])])


# --- comparing -------------------------------------------------------------------------


def split(reps: list[tuple[float, bool]], groups: int = 2) -> list[tuple[list[float], list[bool]]]:
    return [
        ([t for t, _ in reps[g::groups]], [seen for _, seen in reps[g::groups]])
        for g in range(groups)
    ]


@given(TIMED, st.integers(2, 4))
def test_a_comparison_shares_out_as_many_answers_as_there_were(
    reps: list[tuple[float, bool]], groups: int
) -> None:
    found = log_rank_test(split(reps, groups))
    if isinstance(found, Unknown):
        return
    assert sum(found.expected) == pytest.approx(sum(found.observed))
    assert found.chi_square >= -1e-9
    assert 0 <= found.p <= 1
    assert 1 <= found.degrees <= groups - 1


@given(TIMED)
def test_a_comparison_looks_at_the_order_of_times_only(reps: list[tuple[float, bool]]) -> None:
    stretched = [(t**2 + t, seen) for t, seen in reps]
    one, other = log_rank_test(split(reps)), log_rank_test(split(stretched))
    if isinstance(one, Unknown) or isinstance(other, Unknown):
        assert one == other
        return
    assert one == other or one.chi_square == pytest.approx(other.chi_square)


def test_equal_groups_do_not_differ_and_reps_far_apart_do() -> None:
    times, seen = [1.0, 2.0, 3.0, 4.0], [True] * 4
    same = log_rank_test([(times, seen), (times, seen)])
    assert isinstance(same, LogRankTest)
    assert (same.chi_square, same.p) == pytest.approx((0, 1))
    later = log_rank_test([(times, seen), ([t + 10 for t in times], seen)])
    assert isinstance(later, LogRankTest)
    assert later.p < 0.01


def test_luck_alone_gives_small_p_as_often_as_p_says() -> None:
    chance = random.Random(1)
    small = 0
    for _ in range(400):
        reps = [(chance.expovariate(0.3), chance.random() < 0.8) for _ in range(60)]
        found = log_rank_test(split(reps))
        assert isinstance(found, LogRankTest)
        small += found.p < 0.1
    assert 20 <= small <= 62


def test_what_cannot_be_compared() -> None:
    assert unknown(log_rank_test([([1.0], [True])])) == (
        "A comparison needs two groups with timed reps.",
        1,
    )
    assert unknown(log_rank_test([([1.0], [True]), ([], [])])) == (
        "A comparison needs two groups with timed reps.",
        1,
    )
    nothing = "No rep was answered while reps of two groups were under way."
    assert unknown(log_rank_test([([1.0], [False]), ([2.0], [False])])) == (nothing, 2)
    assert unknown(log_rank_test([([1.0], [False]), ([2.0], [True])])) == (nothing, 2)
